// Package printer describes what a print is made with: printer models and
// their nozzles, materials, and ways to print. All of it is data: built-in
// profiles are TOML files of this package, and any of them can be shown and
// overridden by a file of the library's own.
package printer
