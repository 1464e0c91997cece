// SPDX-License-Identifier: MIT
// Texts of the winter desk, in German. "one|other" is chosen by n.

export default {
  'winter.page.air': 'Kellerluft',
  'winter.page.changes': 'Was sich änderte',
  'winter.page.cutting': 'Schneideraum',
  'winter.page.hindsight': 'Rückblick',
  'winter.page.plan': 'Sorten',
  'winter.page.planting': 'Pflanzung',
  'winter.page.print': 'Drucken und ausgeben',
  'winter.page.record': 'Protokoll',
  'winter.page.settings': 'Einstellungen',
  'winter.page.whatif': 'Was wäre wenn',
};
