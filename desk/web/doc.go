// Package web is the desk in a browser: pages for patrons, for staff, and
// slips and receipts for paper.
//
// A handler parses, makes one call on desk.Desk and renders one typed struct;
// or it returns an error, and one place shows that. Pages are whole without
// JavaScript. Everything a browser loads comes from here: no script, style or
// font of another site, and none inline (see headers.go).
//
// No rule of the desk enters: what may follow what, who may do it and what it
// costs are asked of the desk.
package web
