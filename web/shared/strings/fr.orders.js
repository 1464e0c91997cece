// SPDX-License-Identifier: MIT
// Texts of the order desk, in French. "one|other" is chosen by n.

export default {
  'find.lines': '{n} ligne|{n} lignes',
  'orders.page.claims': 'Réclamations',
  'orders.page.find': 'Commandes',
  'orders.page.forget': 'Effacer des données',
  'orders.page.load': 'Fichiers',
  'orders.page.notices': 'Avis',
  'orders.page.parcels': 'Colis',
  'orders.page.short': 'En manque',
  'orders.page.substitutes': 'Remplacements',
  'orders.page.trace': 'Traçage',
  'orders.page.weeks': 'Semaines d’envoi',
};
