// SPDX-License-Identifier: MIT
// Texts of the order desk, in Dutch. "one|other" is chosen by n.

export default {
  'find.lines': '{n} regel|{n} regels',
  'orders.page.claims': 'Klachten',
  'orders.page.find': 'Bestellingen',
  'orders.page.forget': 'Gegevens wissen',
  'orders.page.load': 'Bestanden',
  'orders.page.notices': 'Berichten',
  'orders.page.parcels': 'Pakketten',
  'orders.page.short': 'Krap',
  'orders.page.substitutes': 'Vervanging',
  'orders.page.trace': 'Herkomst',
  'orders.page.weeks': 'Verzendweken',
};
