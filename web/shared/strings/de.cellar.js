// SPDX-License-Identifier: MIT
// Texts of the cellar, in German. "one|other" is chosen by n.

export default {};
