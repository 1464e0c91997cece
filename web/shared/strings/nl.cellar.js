// SPDX-License-Identifier: MIT
// Texts of the cellar, in Dutch. "one|other" is chosen by n.

export default {};
