package desk

import (
	"errors"
	"fmt"
)

// Kind says what sort of Fault it is, so that one place can show it.
type Kind string

const (
	Wrong    Kind = "wrong"    // what was typed or sent cannot be taken; Fields say where
	NotFound Kind = "notfound" // there is no such thing, or not for this person
	NotYours Kind = "notyours" // this person may not do that
	NotNow   Kind = "notnow"   // the request is not in a state where this can follow
	Stale    Kind = "stale"    // someone else changed it meanwhile
	TooMany  Kind = "toomany"  // a limit of the library or of good sense is reached
	NoRoom   Kind = "noroom"   // the disk is full, or the database cannot be written now
	Broken   Kind = "broken"   // a mistake of the program or the machine
)

// Fault is an error with a sentence for the person it happened to.
type Fault struct {
	Kind Kind
	Say  string // what happened and what to do next; shown
	Err  error  // for the log; never shown
	// Fields are sentences by the name of the form field they belong to.
	Fields map[string]string
	// Since are the history lines the person had not seen, for a Stale fault.
	Since []Event
}

func (f *Fault) Error() string {
	if f.Err != nil {
		return fmt.Sprintf("%s: %s (%v)", f.Kind, f.Say, f.Err)
	}
	return fmt.Sprintf("%s: %s", f.Kind, f.Say)
}

func (f *Fault) Unwrap() error { return f.Err }

// Faultf makes a Fault whose sentence is formatted.
func Faultf(kind Kind, format string, a ...any) *Fault {
	return &Fault{Kind: kind, Say: fmt.Sprintf(format, a...)}
}

// KindOf returns the kind of the Fault in err's chain, Broken if there is
// none, and "" for nil.
func KindOf(err error) Kind {
	if err == nil {
		return ""
	}
	var f *Fault
	if errors.As(err, &f) {
		return f.Kind
	}
	return Broken
}
