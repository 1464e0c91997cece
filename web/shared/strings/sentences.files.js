// SPDX-License-Identifier: MIT
// Of files: what is wrong with a header, a row, a cell. How a row is written: sentences.js.

/** @type {[string, string, string, string][]} */
export const FILES = [
  ['is empty', 'ist leer', 'est vide', 'is leeg'],
  [
    'is empty: no cell holds anything',
    'ist leer: in keiner Zelle steht etwas',
    'est vide\u00a0: aucune case ne contient rien',
    'is leeg: in geen cel staat iets',
  ],
  [
    'the file is empty: a header row is required',
    'die Datei ist leer: eine Kopfzeile wird gebraucht',
    'le fichier est vide\u00a0: il faut une ligne de titres',
    'het bestand is leeg: een kopregel is nodig',
  ],
  ['unknown column: {0}', 'unbekannte Spalte: {0}', 'colonne inconnue\u00a0: {0}', 'onbekende kolom: {0}'],
  [
    'the column stands twice in the header',
    'die Spalte steht zweimal in der Kopfzeile',
    'la colonne figure deux fois dans les titres',
    'de kolom staat twee keer in de kopregel',
  ],
  [
    'the header lacks this required column',
    'der Kopfzeile fehlt diese Spalte, die gebraucht wird',
    'il manque aux titres cette colonne nécessaire',
    'de kopregel mist deze kolom, die nodig is',
  ],
  [
    '{0} fields where the header has {1}',
    '{0} Felder, wo die Kopfzeile {1} hat',
    '{0} champs là où les titres en ont {1}',
    '{0} velden waar de kopregel er {1} heeft',
  ],
  [
    'a quote is opened and never closed',
    'ein Anführungszeichen wird geöffnet und nie geschlossen',
    'un guillemet s’ouvre et ne se ferme jamais',
    'een aanhalingsteken wordt geopend en nooit gesloten',
  ],
  [
    'a quote is opened and never closed: {0}',
    'ein Anführungszeichen wird geöffnet und nie geschlossen: {0}',
    'un guillemet s’ouvre et ne se ferme jamais\u00a0: {0}',
    'een aanhalingsteken wordt geopend en nooit gesloten: {0}',
  ],
  [
    'text follows a closing quote',
    'auf ein schließendes Anführungszeichen folgt Text',
    'du texte suit un guillemet fermant',
    'na een sluitend aanhalingsteken volgt tekst',
  ],
  [
    'text follows a closing quote: {0}',
    'auf ein schließendes Anführungszeichen folgt Text: {0}',
    'du texte suit un guillemet fermant\u00a0: {0}',
    'na een sluitend aanhalingsteken volgt tekst: {0}',
  ],
  [
    'not valid UTF-8 (save the file as CSV UTF-8)',
    'kein gültiges UTF-8 (speichern Sie die Datei als CSV UTF-8)',
    'pas de l’UTF-8 valable (enregistrez le fichier en CSV UTF-8)',
    'geen geldige UTF-8 (bewaar het bestand als CSV UTF-8)',
  ],
  [
    'is larger than a spreadsheet may be (32 MB)',
    'ist größer, als ein Blatt sein darf (32 MB)',
    'est plus grand qu’une feuille ne peut l’être (32 Mo)',
    'is groter dan een blad mag zijn (32 MB)',
  ],
  [
    'is a workbook of the old kind (.xls), or one with a password; save it as .xlsx without a password',
    'ist eine Arbeitsmappe der alten Art (.xls) oder eine mit Kennwort; speichern Sie sie als .xlsx ohne Kennwort',
    'est un classeur de l’ancien genre (.xls), ou protégé par un mot de passe\u00a0; enregistrez-le en .xlsx sans mot de passe',
    'is een werkmap van de oude soort (.xls), of een met een wachtwoord; bewaar die als .xlsx zonder wachtwoord',
  ],
  [
    'has a password; save it without one',
    'hat ein Kennwort; speichern Sie ohne',
    'a un mot de passe\u00a0; enregistrez-le sans',
    'heeft een wachtwoord; bewaar het zonder',
  ],
  [
    'is neither text nor an .xlsx workbook; save it as .xlsx, or as CSV',
    'ist weder Text noch eine Arbeitsmappe .xlsx; speichern Sie als .xlsx oder als CSV',
    'n’est ni du texte ni un classeur .xlsx\u00a0; enregistrez-le en .xlsx ou en CSV',
    'is geen tekst en geen werkmap .xlsx; bewaar het als .xlsx of als CSV',
  ],
  [
    'is packed, but no .xlsx workbook; save it as .xlsx, or as CSV',
    'ist gepackt, aber keine Arbeitsmappe .xlsx; speichern Sie als .xlsx oder als CSV',
    'est compressé, mais n’est pas un classeur .xlsx\u00a0; enregistrez-le en .xlsx ou en CSV',
    'is ingepakt, maar geen werkmap .xlsx; bewaar het als .xlsx of als CSV',
  ],
  [
    'is a workbook without a sheet',
    'ist eine Arbeitsmappe ohne Blatt',
    'est un classeur sans feuille',
    'is een werkmap zonder blad',
  ],
  [
    'is damaged: the workbook cannot be opened',
    'ist beschädigt: die Arbeitsmappe lässt sich nicht öffnen',
    'est abîmé\u00a0: le classeur ne s’ouvre pas',
    'is beschadigd: de werkmap gaat niet open',
  ],
  [
    'there is no such kind of file',
    'diese Art Datei gibt es nicht',
    'ce genre de fichier n’existe pas',
    'deze soort bestand is er niet',
  ],
  [
    'a temperature is needed, in temp_c or temp_f',
    'eine Temperatur wird gebraucht, in temp_c oder temp_f',
    'il faut une température, en temp_c ou temp_f',
    'een temperatuur is nodig, in temp_c of temp_f',
  ],
  [
    "a variety's code must not hold a space, since lists of codes are parted by spaces: {0}",
    'im Kürzel einer Sorte darf kein Leerzeichen stehen, weil Leerzeichen Kürzel trennen: {0}',
    'le code d’une variété ne doit pas contenir d’espace, car les espaces séparent les codes\u00a0: {0}',
    'in de code van een soort mag geen spatie staan, want spaties scheiden codes: {0}',
  ],
  [
    "this file's season is {0}, and history is of seasons before it: {1}",
    'die Saison dieser Datei ist {0}, und Vergangenes liegt davor: {1}',
    'la saison de ce fichier est {0}, et l’historique est des saisons d’avant\u00a0: {1}',
    'het seizoen van dit bestand is {0}, en geschiedenis is van daarvoor: {1}',
  ],
  [
    'more rotten than inspected ({0}): {1}',
    'mehr Faule als geprüft ({0}): {1}',
    'plus de pourris que d’examinés ({0})\u00a0: {1}',
    'meer rotte dan bekeken ({0}): {1}',
  ],
  [
    'more rotten and shrivelled together than inspected ({0}): {1}',
    'mehr Faule und Eingetrocknete zusammen als geprüft ({0}): {1}',
    'plus de pourris et de desséchés ensemble que d’examinés ({0})\u00a0: {1}',
    'meer rotte en verschrompelde samen dan bekeken ({0}): {1}',
  ],
  [
    'only divisions are counted as shrivelled, not clumps: {0}',
    'nur Teilstücke werden als eingetrocknet gezählt, keine Stöcke: {0}',
    'seuls les éclats sont comptés comme desséchés, pas les souches\u00a0: {0}',
    'alleen deelknollen tellen als verschrompeld, geen pollen: {0}',
  ],
  [
    'more than {0} divisions from each of {1} clumps: {2}',
    'mehr als {0} Teilstücke aus jedem von {1} Stöcken: {2}',
    'plus de {0} éclats de chacune des {1} souches\u00a0: {2}',
    'meer dan {0} deelknollen uit elk van {1} pollen: {2}',
  ],
];
