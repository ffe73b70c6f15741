// Package visit goes about the desk as people do whose browsers run no scripts:
// it opens pages, fills in the forms it finds there and sends them, from a
// network address of its own. Tests that kill the program, and the load program,
// are made of it. It knows pages and forms, and nothing of the desk behind them.
package visit
