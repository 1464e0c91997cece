// SPDX-License-Identifier: MIT
// The sharing rules in each language: a rule of core/model/share_rules.def has its name and its words here, in one place.

export const en = {
  'rule.first-come': 'First come',
  'rule.one-each-first': 'One each first',
  'rule.pro-rata': 'Pro rata',
  'rule.substitute': 'Substitution',
  'rule.words.first-come': 'Earlier orders are filled whole before later ones get any.',
  'rule.words.one-each-first': 'Everyone gets one before anyone gets two.',
  'rule.words.pro-rata': 'Everyone gets the same share of what they asked, in whole divisions.',
};

export const de = {
  'rule.first-come': 'Wer zuerst kommt',
  'rule.one-each-first': 'Erst jedem eins',
  'rule.pro-rata': 'Anteilig',
  'rule.substitute': 'Ersatz',
  'rule.words.first-come': 'Frühere Bestellungen werden ganz erfüllt, bevor spätere etwas bekommen.',
  'rule.words.one-each-first': 'Jeder bekommt eins, bevor jemand zwei bekommt.',
  'rule.words.pro-rata': 'Jeder bekommt denselben Anteil des Verlangten, in ganzen Teilstücken.',
};

export const fr = {
  'rule.first-come': 'Premier arrivé',
  'rule.one-each-first': 'D’abord un à chacun',
  'rule.pro-rata': 'Au prorata',
  'rule.substitute': 'Remplacement',
  'rule.words.first-come': 'Les premières commandes sont servies entières avant les suivantes.',
  'rule.words.one-each-first': 'Chacun en a un avant que quiconque en ait deux.',
  'rule.words.pro-rata': 'Chacun a la même part de sa demande, en éclats entiers.',
};

export const nl = {
  'rule.first-come': 'Wie het eerst komt',
  'rule.one-each-first': 'Eerst ieder één',
  'rule.pro-rata': 'Naar rato',
  'rule.substitute': 'Vervanging',
  'rule.words.first-come': 'Eerdere bestellingen worden heel gevuld voordat latere iets krijgen.',
  'rule.words.one-each-first': 'Iedereen krijgt er één voordat iemand er twee krijgt.',
  'rule.words.pro-rata': 'Iedereen krijgt hetzelfde deel van wat hij vroeg, in hele deelknollen.',
};
