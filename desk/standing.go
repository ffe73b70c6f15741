package desk

import (
	"context"
	"time"
)

// Standing returns the actor an account is now, for a session of it that began
// at since and comes from a network address. It is the zero Actor if the
// account is closed or gone, or was given a new password since: such a session
// is over.
func (d *Desk) Standing(ctx context.Context, staff ID, since time.Time, from string) (Actor, error) {
	var who Actor
	err := d.Store.Read(ctx, func(tx Tx) error {
		s, err := tx.Staff(staff)
		switch {
		case KindOf(err) == NotFound:
			return nil
		case err != nil:
			return err
		case s.Active && !since.Before(s.Renewed):
			who = s.actor(from)
		}
		return nil
	})
	return who, err
}
