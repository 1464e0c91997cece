-- SPDX-License-Identifier: MIT
-- Buyers are written to in their own language. Without one on the order it is the nursery's (setting language).
ALTER TABLE orders ADD COLUMN language TEXT CHECK (language IN ('de', 'en', 'fr', 'nl'));

-- A text for each kind in each language. What stood here, the nursery's own or not, is what goes on being said: it is the text of
-- the language en, which is the nursery's until it says otherwise.
CREATE TABLE template_was AS SELECT kind, subject, body, version FROM template;
DROP TABLE template;
CREATE TABLE template (
    kind TEXT NOT NULL CHECK (kind IN ('delay', 'short', 'substitute', 'refund', 'cancelled', 'recall')),
    language TEXT NOT NULL CHECK (language IN ('de', 'en', 'fr', 'nl')),
    subject TEXT NOT NULL,
    body TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    PRIMARY KEY (kind, language)
) STRICT, WITHOUT ROWID;
INSERT INTO template (kind, language, subject, body, version) SELECT kind, 'en', subject, body, version FROM template_was;
DROP TABLE template_was;

INSERT INTO template (kind, language, subject, body) VALUES
('delay', 'de', 'Ihre Bestellung {order} geht später ab, als wir gesagt haben',
'Guten Tag {customer},

Ihre Bestellung {order} sollte bis zum {promised} bei uns abgehen. Es tut uns leid: sie geht später ab. Wir rechnen jetzt mit
dem Versand {expected}.
{reason}
Sie können dem neuen Termin zustimmen oder die Bestellung stornieren und Ihr Geld vollständig zurückerhalten. Bitte antworten Sie
dazu auf diese Nachricht; es kostet Sie nichts.
{silence}

{nursery}
'),
('delay', 'fr', 'Votre commande {order} partira plus tard que prévu',
'Bonjour {customer},

votre commande {order} devait partir au plus tard le {promised}. Nous en sommes désolés : elle partira plus tard. Nous pensons
maintenant l’expédier {expected}.
{reason}
Vous pouvez accepter la nouvelle date, ou annuler la commande et être remboursé en totalité. Dites-le-nous en répondant à ce
message ; cela ne vous coûte rien.
{silence}

{nursery}
'),
('delay', 'nl', 'Uw bestelling {order} vertrekt later dan wij zeiden',
'Beste {customer},

uw bestelling {order} zou uiterlijk {promised} bij ons vertrekken. Het spijt ons: ze vertrekt later. Wij verwachten ze nu
{expected} te verzenden.
{reason}
U kunt met de nieuwe datum instemmen, of de bestelling annuleren en uw geld volledig terugkrijgen. Laat het ons weten door dit
bericht te beantwoorden; het kost u niets.
{silence}

{nursery}
'),
('short', 'de', 'Ihre Bestellung {order}: wir können {variety} nicht vollständig liefern',
'Guten Tag {customer},

von {variety} haben Sie {asked} bestellt, und wir haben {promised} für Sie. Es fehlen {quantity}, und in dieser Saison kommen keine
mehr dazu. Es tut uns leid. Was Sie dafür bezahlt haben, {amount} {currency}, erhalten Sie spätestens am {refund_by} zurück.

Wenn Sie lieber eine andere Sorte hätten, antworten Sie bitte auf diese Nachricht.

{nursery}
'),
('short', 'fr', 'Votre commande {order} : nous ne pouvons pas livrer tout {variety}',
'Bonjour {customer},

de {variety} vous avez commandé {asked}, et nous en avons {promised} pour vous. Il en manque {quantity}, et il n’en viendra plus cette
saison. Nous en sommes désolés. Ce que vous avez payé pour cela, {amount} {currency}, vous est rendu au plus tard le {refund_by}.

Si vous préférez une autre variété, répondez à ce message.

{nursery}
'),
('short', 'nl', 'Uw bestelling {order}: wij kunnen {variety} niet volledig leveren',
'Beste {customer},

van {variety} hebt u er {asked} besteld, en wij hebben er {promised} voor u. Wij komen er {quantity} tekort, en dit seizoen komen er
geen meer bij. Het spijt ons. Wat u ervoor hebt betaald, {amount} {currency}, krijgt u uiterlijk {refund_by} terug.

Hebt u liever een andere soort, beantwoord dan dit bericht.

{nursery}
'),
('substitute', 'de', 'Ihre Bestellung {order}: eine andere Sorte anstelle von {variety}',
'Guten Tag {customer},

von {variety} haben wir in dieser Saison nicht genug. Wie Sie es bei der Bestellung erlaubt haben, haben wir an ihrer Stelle
{quantity} {substitute} für Sie zurückgelegt, ohne Aufpreis.

Wenn Sie das nicht möchten, antworten Sie bitte vor dem {due} auf diese Nachricht; dann erstatten wir Ihnen diesen Teil.

{nursery}
'),
('substitute', 'fr', 'Votre commande {order} : une autre variété à la place de {variety}',
'Bonjour {customer},

nous n’avons pas assez de {variety} cette saison. Comme vous l’avez permis en commandant, nous avons réservé pour vous {quantity}
{substitute} à sa place, sans supplément.

Si vous n’en voulez pas, répondez à ce message avant le {due}, et nous vous rembourserons cette partie.

{nursery}
'),
('substitute', 'nl', 'Uw bestelling {order}: een andere soort in plaats van {variety}',
'Beste {customer},

van {variety} hebben wij dit seizoen niet genoeg. Zoals u bij het bestellen hebt toegestaan, hebben wij in plaats daarvan {quantity}
{substitute} voor u apart gelegd, zonder meerprijs.

Wilt u dat liever niet, beantwoord dit bericht dan vóór {due}; dan betalen wij dat deel terug.

{nursery}
'),
('refund', 'de', 'Ihre Bestellung {order}: Ihre Erstattung von {amount} {currency}',
'Guten Tag {customer},

wir schulden Ihnen {amount} {currency} für {quantity} × {variety} ({why}). Wir senden das Geld auf dem Weg zurück, auf dem Sie bezahlt
haben, spätestens am {refund_by}.

{nursery}
'),
('refund', 'fr', 'Votre commande {order} : votre remboursement de {amount} {currency}',
'Bonjour {customer},

nous vous devons {amount} {currency} pour {quantity} × {variety} ({why}). Nous vous les rendons par le moyen de votre paiement, au plus
tard le {refund_by}.

{nursery}
'),
('refund', 'nl', 'Uw bestelling {order}: uw terugbetaling van {amount} {currency}',
'Beste {customer},

wij zijn u {amount} {currency} schuldig voor {quantity} × {variety} ({why}). Wij betalen het terug op de manier waarop u hebt betaald,
uiterlijk {refund_by}.

{nursery}
'),
('cancelled', 'de', 'Ihre Bestellung {order} ist storniert',
'Guten Tag {customer},

aus Ihrer Bestellung {order} ist seit dem {cancelled} storniert: {what}. Was Sie dafür bezahlt haben, {amount} {currency}, erhalten
Sie spätestens am {refund_by} zurück.
{reason}

{nursery}
'),
('cancelled', 'fr', 'Votre commande {order} est annulée',
'Bonjour {customer},

de votre commande {order} est annulé depuis le {cancelled} : {what}. Ce que vous avez payé pour cela, {amount} {currency}, vous est
rendu au plus tard le {refund_by}.
{reason}

{nursery}
'),
('cancelled', 'nl', 'Uw bestelling {order} is geannuleerd',
'Beste {customer},

van uw bestelling {order} is sinds {cancelled} geannuleerd: {what}. Wat u ervoor hebt betaald, {amount} {currency}, krijgt u uiterlijk
{refund_by} terug.
{reason}

{nursery}
'),
('recall', 'de', 'Bitte prüfen Sie, was Sie aus der Bestellung {order} erhalten haben: {variety}',
'Guten Tag {customer},

wir haben Ihnen {quantity} {variety} aus unserer Partie {lot}, Reihe {row}, gesandt. Diese Partie haben wir seither gesperrt. Der
Grund: {reason}

Bitte halten Sie diese Pflanzen von Ihren anderen getrennt, geben Sie sie nicht weiter, und antworten Sie auf diese Nachricht; wir
sagen Ihnen, was zu tun ist, und machen es gut. Wo eine Krankheit vermutet wird, hat Ihre Pflanzengesundheitsbehörde das letzte Wort.

{nursery}
'),
('recall', 'fr', 'Vérifiez ce que vous avez reçu de la commande {order} : {variety}',
'Bonjour {customer},

nous vous avons envoyé {quantity} {variety} de notre lot {lot}, rang {row}. Nous avons bloqué ce lot depuis. La raison : {reason}

Gardez ces plantes à l’écart des autres, ne les donnez pas, et répondez à ce message ; nous vous dirons que faire et nous vous
dédommagerons. Là où une maladie est soupçonnée, votre autorité phytosanitaire a le dernier mot.

{nursery}
'),
('recall', 'nl', 'Controleer wat u van bestelling {order} hebt ontvangen: {variety}',
'Beste {customer},

wij hebben u {quantity} {variety} gestuurd uit onze partij {lot}, rij {row}. Die partij hebben wij sindsdien vastgezet. De reden:
{reason}

Houd deze planten apart van uw andere, geef ze niet door en beantwoord dit bericht; wij zeggen u wat u moet doen en maken het goed.
Waar een ziekte wordt vermoed, heeft uw plantenziektekundige dienst het laatste woord.

{nursery}
');
