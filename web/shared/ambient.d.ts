declare module '*.css';

/** The help, as the build reads it (build.mjs). */
declare module '*.md' {
    const pages: import('../help/parse.js').Page[];
    export default pages;
}
