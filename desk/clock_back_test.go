package desk_test

import (
	"fmt"
	"testing"
	"time"

	"platebook/desk"
)

// A machine's clock may be set back: it ran ahead, or began the day with another
// year. What follows what must not turn round for that, nor anybody be shut out.

func TestRunsWhenTheClockIsSetBack(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 10))
	where := func(name string, want desk.PlateState) {
		t.Helper()
		m.read(func(tx desk.Tx) error {
			runs, err := tx.RunsOf(r.ID)
			if got := desk.Stands(m.request(r.ID), runs, 2)[0].State; got != want {
				t.Errorf("%s: the plate is %q, want %q", name, got, want)
			}
			return err
		})
	}
	m.at = m.at.Add(-2 * time.Hour)
	run := m.start(platesOf(r)...)
	where("begun before it was agreed", desk.PlateGoing)
	m.at = m.at.Add(-time.Hour)
	if _, err := m.FailRun(m.ctx, m.operator(), run.ID, 0, desk.FailForm{Form: m.form(), Why: "came off", Blame: desk.MachineBlame}); err != nil {
		t.Fatal(err)
	}
	where("failed", desk.PlateWaits)
	run = m.start(platesOf(r)...)
	where("begun again before it failed", desk.PlateGoing)
	m.weigh(run, 10)
	where("weighed", desk.PlateDone)
	if got := m.balance(r.ID); got != "2.00" {
		t.Errorf("owed is %s, want 2.00", got)
	}
}

func TestAgreedAnewWhenTheClockIsSetBack(t *testing.T) {
	m := newRoom(t)
	r := m.weighed(10, 10)
	way := r.Agreement.Way
	m.at = m.at.Add(-3 * time.Hour)
	m.write(func(tx desk.Tx) (err error) {
		if r, err = tx.Request(r.ID); err != nil {
			return err
		}
		r.State, r.Agreement = desk.WithPatron, nil
		r.Wish.Rights = true
		r.Quote = &desk.Quote{Ways: []desk.Way{way}, Best: way.ID, Sent: m.at, Until: m.at.AddDate(0, 0, 14), Tariff: m.tariff, Rules: m.rules}
		return tx.SaveRequest(&r)
	})
	r, err := m.AgreeAtDesk(m.ctx, m.manager(), r.ID, desk.AgreeForm{Form: m.form(), Way: way.ID, Accept: true, Cautions: true, Age: "over"})
	if err != nil {
		t.Fatal(err)
	}
	m.read(func(tx desk.Tx) error {
		runs, err := tx.RunsOf(r.ID)
		if got := desk.Stands(r, runs, 2)[0].State; got != desk.PlateWaits {
			t.Errorf("what was printed for the agreement before counts for the new one: %q", got)
		}
		return err
	})
}

func TestLogInsWhenTheClockIsSetBack(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	o.manager()
	for i := range 12 {
		if _, err := o.LogIn(ctx, "rowan", fmt.Sprint("a wrong password ", i), "192.0.2.9"); desk.KindOf(err) == desk.TooMany {
			break
		}
	}
	_, err := o.LogIn(ctx, "rowan", password, "192.0.2.9")
	want(t, "after many that failed", err, desk.TooMany)
	o.now = o.now.AddDate(-1, 0, 0)
	_, err = o.LogIn(ctx, "rowan", password, "192.0.2.9")
	want(t, "a year before", err, "")
}

func TestSessionsWhenTheClockIsSetBack(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	before := o.now.Add(time.Hour) // a session that began later on the same day
	o.now = o.now.AddDate(-1, 0, 0)
	s, err := o.LogIn(ctx, "rowan", password, "192.0.2.9")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := o.ActorFor(ctx, s.ID, "192.0.2.9", s.Begins(o.now)); err != nil {
		t.Errorf("a session that begins now is over: %v", err)
	}
	_, err = o.ActorFor(ctx, s.ID, "192.0.2.9", before)
	want(t, "a session of a day that is yet to come", err, desk.NotYours)

	// A new password ends what began with the one before, whatever the clock says.
	was := s.Begins(o.now)
	if s, err = o.SetPassword(ctx, by, password, "quiet lamps borrow rain"); err != nil {
		t.Fatal(err)
	}
	_, err = o.ActorFor(ctx, s.ID, "192.0.2.9", was)
	want(t, "a session of the old password", err, desk.NotYours)
	if _, err := o.ActorFor(ctx, s.ID, "192.0.2.9", s.Begins(o.now)); err != nil {
		t.Errorf("a session of the new password is over: %v", err)
	}
}
