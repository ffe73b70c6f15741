package desk

import "fmt"

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
	subject, text, err := drafted(set, r, d.Key(r), kind, more)
	if err != nil {
		return err
	}
	m := Message{ID: NewID(), Request: r.ID, Form: fmt.Sprintf("text-%s-%d", kind, r.Version), From: ByClock,
		Who: set.Library.Name, Subject: subject, Text: text, At: d.now()}
	return d.say(tx, set, r, &m)
}

// drafted is Draft where something must be said: a text the library wrote that
// does not fill in must not stop what it is about, so the program's own stands in.
func drafted(s Settings, r Request, key string, kind TextKind, x Extra) (subject, text string, err error) {
	if subject, text, err = Draft(s, r, key, kind, x); err != nil {
		s.Texts = DefaultTexts()
		subject, text, err = Draft(s, r, key, kind, x)
	}
	return subject, text, err
}
