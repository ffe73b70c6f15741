package desk

import (
	"fmt"

	"platebook/engine/tariff"
)

// tell puts a message of the library's texts into the conversation, in the
// patron's language, in the transaction of what it is about. It is of nobody
// in particular: the clock's.
func (d *Desk) tell(tx Tx, set Settings, r Request, kind TextKind, more Extra) error {
	var err error
	if more.Branch.ID == "" {
		if more.Branch, err = tx.Branch(r.Branch); err != nil && KindOf(err) != NotFound {
			return err
		}
	}
	if more.Files == nil {
		if more.Files, err = tx.FilesOf(r.ID); err != nil {
			return err
		}
	}
	subject, text, err := Draft(set, r, d.Key(r), kind, more)
	if err != nil {
		// A text the library wrote that does not fill in must not stop anything.
		set.Texts = DefaultTexts()
		if subject, text, err = Draft(set, r, d.Key(r), kind, more); err != nil {
			return err
		}
	}
	m := Message{ID: NewID(), Request: r.ID, Form: fmt.Sprintf("text-%s-%d", kind, r.Version), From: ByClock,
		Who: set.Library.Name, Subject: subject, Text: text, At: d.now()}
	return d.say(tx, set, r, &m)
}

// owed is the balance of an account.
func owed(lines []Charge) (tariff.Decimal, error) {
	var amounts []tariff.Decimal
	for _, c := range lines {
		amounts = append(amounts, c.Amount)
	}
	return tariff.Sum(amounts...)
}
