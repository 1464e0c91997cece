// SPDX-License-Identifier: MIT
// Texts of the winter desk, in Dutch. "one|other" is chosen by n.

export default {
  'winter.page.air': 'Kelderlucht',
  'winter.page.changes': 'Wat veranderde',
  'winter.page.cutting': 'Snijruimte',
  'winter.page.hindsight': 'Terugblik',
  'winter.page.plan': 'Soorten',
  'winter.page.planting': 'Aanplant',
  'winter.page.print': 'Afdrukken en uitvoer',
  'winter.page.record': 'Logboek',
  'winter.page.settings': 'Instellingen',
  'winter.page.whatif': 'Wat als',
};
