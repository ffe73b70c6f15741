package desk

import (
	"context"
	"errors"
	"fmt"
	"time"
)

var zeroTime time.Time

// LookRound does what is due by the clock: it sees that what is to be checked
// waits in the queue, reminds, lets quotes and prints on the shelf lapse,
// forgets, and sweeps away bytes that nothing refers to.
// It may be broken off anywhere and begun again. What goes wrong with one
// request does not keep the others waiting.
func (d *Desk) LookRound(ctx context.Context) error {
	s, err := d.Settings(ctx)
	if err != nil {
		return err
	}
	now := d.now()
	waiting := RequestFilter{States: []State{WithPatron, OnShelf}}
	over := RequestFilter{ClosedBy: now.AddDate(0, 0, -s.Rules.KeepDays), Unforgotten: true}
	errs := []error{
		d.takeUp(ctx),
		d.each(ctx, waiting, func(tx Tx, r Request) error {
			switch due(r, s.Rules, now) {
			case remindDue:
				return d.remind(tx, r)
			case lapseDue:
				return d.lapse(tx, r)
			}
			return nil
		}, func(r Request) bool { return due(r, s.Rules, now) != nothingDue }),
		d.each(ctx, over, func(tx Tx, r Request) error { return d.forget(tx, &r, Clockwork()) }, func(r Request) bool { return r.State.Over() }),
		d.Store.Write(ctx, func(tx Tx) error { return tx.ForgetOldMail(now.AddDate(0, 0, -s.Rules.KeepDays)) }),
		d.Store.Write(ctx, func(tx Tx) error { return tx.DropLogIns(now.AddDate(0, 0, -max(s.Rules.AuditDays, 1))) }),
		d.sweep(ctx, now.Add(-24*time.Hour)),
	}
	if t, ok := d.Store.(Tidier); ok {
		errs = append(errs, t.Tidy(ctx))
	}
	return errors.Join(errs...)
}

// Tidier is a store that keeps old pages about until it is told to let go of them.
type Tidier interface {
	// Tidy sees that nothing deleted can be read from the store's files.
	Tidy(ctx context.Context) error
}

// each calls do for the requests of a filter that need it, each in a transaction
// of its own with the request as it is then. It goes on after a failure, and
// returns all.
func (d *Desk) each(ctx context.Context, f RequestFilter, do func(Tx, Request) error, needs func(Request) bool) error {
	f.Most = 100
	var errs []error
	for ctx.Err() == nil {
		var page []Request
		if err := d.Store.Read(ctx, func(tx Tx) (err error) {
			page, err = tx.ListRequests(f)
			return err
		}); err != nil {
			return errors.Join(append(errs, err)...)
		}
		for _, r := range page {
			if !needs(r) {
				continue
			}
			err := d.Store.Write(ctx, func(tx Tx) error {
				r, err := tx.Request(r.ID)
				if err != nil || !needs(r) {
					return err
				}
				return do(tx, r)
			})
			if err != nil {
				errs = append(errs, fmt.Errorf("request %s: %w", r.ID, err))
			}
		}
		if len(page) < f.Most {
			break
		}
		f.After = page[len(page)-1].ID
	}
	return errors.Join(append(errs, ctx.Err())...)
}

// What the clock has to do with a quote or with a print on the shelf.
const (
	nothingDue = iota
	remindDue
	lapseDue
)

// due says what is due at a time.
func due(r Request, rules Rules, now time.Time) int {
	since, until := r.ends()
	if until.IsZero() {
		return nothingDue
	}
	if now.After(until) {
		return lapseDue
	}
	soon := until.AddDate(0, 0, -rules.RemindDays)
	// One so short that it began within the days of reminding needs none.
	if rules.RemindDays > 0 && !now.Before(soon) && since.Before(soon) && r.Reminded.Before(since) {
		return remindDue
	}
	return nothingDue
}

// remind reminds of a quote or a print on the shelf, once.
func (d *Desk) remind(tx Tx, r Request) error {
	s, err := settings(tx)
	if err != nil {
		return err
	}
	_, err = d.change(tx, r.ID, 0, Clockwork(), func(r *Request) (Event, error) {
		_, until := r.ends()
		r.Reminded, r.Due = d.now(), until
		say := "The patron was reminded that the quote ends soon."
		if r.State == OnShelf {
			say = "The patron was reminded that the print waits."
		}
		return Event{What: "reminded", Say: say}, d.write(tx, s, *r, TextRemind, fmt.Sprintf("remind %d", until.Unix()))
	})
	return err
}

// ends says since when a quote stands, or a print lies on the shelf, and until when.
func (r Request) ends() (since, until time.Time) {
	switch {
	case r.State == WithPatron && r.Quote != nil:
		return r.Quote.Sent, r.Quote.Until
	case r.State == OnShelf && r.Shelf != nil:
		return r.Shelf.Since, r.Shelf.Until
	}
	return zeroTime, zeroTime
}

// lapse ends a request whose patron did not answer or come.
func (d *Desk) lapse(tx Tx, r Request) error {
	s, err := settings(tx)
	if err != nil {
		return err
	}
	_, err = d.change(tx, r.ID, 0, Clockwork(), func(r *Request) (Event, error) {
		say, why := "The quote ended without an answer.", "The quote ended without an answer."
		if r.State == OnShelf {
			say, why = "The print was not collected in time.", "It was not collected in time."
		}
		_, until := r.ends()
		if err := d.close(tx, r, Lapsed, why); err != nil {
			return Event{}, err
		}
		return Event{What: "lapsed", Say: say}, d.write(tx, s, *r, TextLapsed, fmt.Sprintf("lapsed %d", until.Unix()))
	})
	return err
}

// write puts a message of the library's into the conversation, once by its form.
func (d *Desk) write(tx Tx, s Settings, r Request, kind TextKind, form string) error {
	if _, err := tx.MessageByForm(r.ID, form); err == nil {
		return nil
	} else if KindOf(err) != NotFound {
		return err
	}
	var x Extra
	var err error
	if x.Branch, err = tx.Branch(r.Branch); err != nil && KindOf(err) != NotFound {
		return err
	}
	lines, err := tx.Charges(r.ID)
	if err != nil {
		return err
	}
	if x.Owed, err = balance(lines); err != nil {
		return err
	}
	subject, text, err := drafted(s, r, d.Key(r), kind, x)
	if err != nil {
		return err
	}
	by := Clockwork()
	return d.say(tx, s, r, &Message{ID: NewID(), Request: r.ID, Form: form, From: by.Kind, Who: s.Library.Name,
		Subject: subject, Text: text, At: d.now()})
}

// sweep deletes bytes put before a time that nothing refers to. What is put and
// not yet referred to is younger than that. What cannot be deleted keeps no
// others from going.
func (d *Desk) sweep(ctx context.Context, before time.Time) error {
	const batch = 200
	var some []Hash
	var stuck error // the first, of however many
	drop := func() error {
		var free []Hash
		err := d.Store.Read(ctx, func(tx Tx) error {
			for _, h := range some {
				used, err := tx.HashUsed(h)
				if err != nil {
					return err
				}
				if !used {
					free = append(free, h)
				}
			}
			return nil
		})
		some = some[:0]
		if err != nil {
			return err
		}
		for _, h := range free {
			// Put again or referred to meanwhile, or a backup runs: it stays.
			if err := d.Shelves.Delete(ctx, h); err != nil && KindOf(err) != NotNow && stuck == nil {
				stuck = fmt.Errorf("sweep %s: %w", h, err)
			}
		}
		return ctx.Err()
	}
	err := d.Shelves.Old(ctx, before, func(h Hash) error {
		if some = append(some, h); len(some) < batch {
			return nil
		}
		return drop()
	})
	if err == nil {
		err = drop()
	}
	return errors.Join(err, stuck)
}
