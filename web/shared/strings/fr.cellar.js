// SPDX-License-Identifier: MIT
// Texts of the cellar, in French. "one|other" is chosen by n.

export default {};
