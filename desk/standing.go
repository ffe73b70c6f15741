package desk

import (
	"context"
	"time"
)

// Standing returns the actor an account is now, for a session of it that began
// at since and comes from a network address. It is the zero Actor if the
// account is closed or gone, or was given a new password since: such a session
// is over. So is one that began at a time yet to come, before the clock was set
// back: it cannot be told what was before it.
func (d *Desk) Standing(ctx context.Context, staff ID, since time.Time, from string) (Actor, error) {
	var who Actor
	err := d.Store.Read(ctx, func(tx Tx) error {
		s, err := tx.Staff(staff)
		switch {
		case KindOf(err) == NotFound:
			return nil
		case err != nil:
			return err
		case s.Active && !since.Before(s.Renewed) && !since.After(s.Begins(d.now()).Add(time.Minute)):
			who = s.actor(from)
		}
		return nil
	})
	return who, err
}

// Begins is when a session of the account begins that is begun now: never
// before its password was set, also when the clock was set back since.
func (s Staff) Begins(now time.Time) time.Time { return after(now, s.Renewed) }

// renew notes that the password is another from now on, or counts no more, so
// that every session begun with it is over.
func (s *Staff) renew(now time.Time) {
	if now.Before(s.Renewed) { // the clock was set back
		now = s.Renewed.Add(time.Microsecond)
	}
	s.Renewed = now
}
