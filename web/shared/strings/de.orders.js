// SPDX-License-Identifier: MIT
// Texts of the order desk, in German. "one|other" is chosen by n.

export default {
  'find.lines': '{n} Position|{n} Positionen',
  'orders.page.claims': 'Reklamationen',
  'orders.page.find': 'Bestellungen',
  'orders.page.forget': 'Daten entfernen',
  'orders.page.load': 'Dateien',
  'orders.page.notices': 'Mitteilungen',
  'orders.page.parcels': 'Pakete',
  'orders.page.short': 'Knapp',
  'orders.page.substitutes': 'Ersatz',
  'orders.page.trace': 'Herkunft',
  'orders.page.weeks': 'Versandwochen',
};
