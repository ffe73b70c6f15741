// Package demo holds Larkmere Libraries, an invented service to try everything
// on: its patrons' parts, made by code, in the formats and with the mistakes
// that arrive at a real desk.
package demo
