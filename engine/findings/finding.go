package findings

import (
	"platebook/engine/mesh"
	"platebook/engine/say"
)

// Severity says what a finding asks of staff.
type Severity string

const (
	Note Severity = "note" // worth knowing
	Ask  Severity = "ask"  // settle it with the patron first
	Stop Severity = "stop" // cannot be printed like this
)

// Finding is one thing the check noticed.
type Finding struct {
	ID       string   `json:"id"`
	Severity Severity `json:"severity"`
	Message  string   `json:"message"` // in English
	// Saying is the message as data, to be said in other languages; empty in
	// what was kept before there was any.
	Saying say.Saying `json:"saying,omitzero"`
	// Numbers behind the message; the unit is in the name.
	Numbers map[string]float64 `json:"numbers,omitempty"`
	// Places are points in the model, mm, in the frame it is printed in, worst first.
	Places []mesh.Vec `json:"places_mm,omitempty"`
}

// ToPatron is the message to the patron in the language of a tag, such as "fr" or
// "fr-CA", and in English where there are no words for it. Staff read Message,
// which tells them what to ask; the patron is asked.
func (f Finding) ToPatron(tag string) string { return f.Saying.ToPatron(tag, f.Message) }
