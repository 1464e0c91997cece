// SPDX-License-Identifier: MIT
// Texts of the winter desk, in French. "one|other" is chosen by n.

export default {
  'winter.page.air': 'Air de la cave',
  'winter.page.changes': 'Changements',
  'winter.page.cutting': 'Atelier de coupe',
  'winter.page.hindsight': 'Rétrospective',
  'winter.page.plan': 'Variétés',
  'winter.page.planting': 'Plantation',
  'winter.page.print': 'Imprimer et exporter',
  'winter.page.record': 'Journal',
  'winter.page.settings': 'Réglages',
  'winter.page.whatif': 'Et si',
};
