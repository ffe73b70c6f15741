package desk

// What is forgotten and what stays is written down in docs/forgetting.md; the
// test of it puts a marked word into every field a person could be told by and
// looks for the marks in every byte of the folder afterwards.

// forget takes out of tx everything of r that is about a person, and saves r.
// A request that is not over yet is withdrawn first.
func (d *Desk) forget(tx Tx, r *Request, by Actor) error {
	if !r.Forgotten.IsZero() {
		return nil
	}
	if !r.State.Over() {
		if !r.State.MayFollow(Withdrawn) {
			return Faultf(NotNow, "This request is %s. It can be forgotten once it is collected or has ended; ask the desk if that cannot wait.", r.State)
		}
		if err := d.close(tx, r, Withdrawn, ""); err != nil {
			return err
		}
	}
	for _, gone := range []func(ID) error{tx.DeleteMessages, tx.DeleteFiles, tx.Unrefer, tx.ScrubEvents, tx.ScrubCharges, tx.ForgetMail} {
		if err := gone(r.ID); err != nil {
			return err
		}
	}
	r.scrub()
	r.Forgotten, r.Changed, r.Due = d.now(), d.now(), zeroTime
	if err := tx.SaveRequest(r); err != nil {
		return err
	}
	return d.note(tx, *r, by, Event{What: "forgotten", Say: "Everything about the patron was forgotten; counts stay."})
}

// scrub keeps what no person can be told by: when, where, how it ended, and
// how many were wished for. No link leads to it any more. The form that made it
// stays, so that it makes no second one, unless it is a letter's name: that may
// tell whose it was.
func (r *Request) scrub() {
	form := r.Form
	if r.Source == "mail" {
		form = ""
	}
	*r = Request{
		Form: form,
		ID:   r.ID, Version: r.Version, Code: r.Code, State: r.State, Branch: r.Branch, Source: r.Source,
		Wish: Wish{Copies: r.Wish.Copies}, Asked: r.Asked, Closed: r.Closed,
	}
}
