// Package browser drives Chromium for tests: it finds things as people do, by
// role and name in the accessibility tree, acts by keyboard, holds pages to
// axe-core's rules, and keeps screenshots in build/screens. A page that logs an
// error or breaks its own security policy fails the test.
//
// Nothing here knows our pages. It is never part of the program.
package browser
