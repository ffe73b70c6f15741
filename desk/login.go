package desk

import (
	"context"
	"crypto/rand"
	"regexp"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// oneTimeDays is how long a word a manager hands over is good for.
const oneTimeDays = 3

// nameForm is what an account is called to log in with.
var nameForm = regexp.MustCompile(`^[\p{L}\p{N}][\p{L}\p{N}._@+-]{1,59}$`)

// loginName is a name as it is kept and compared: small letters, one form.
func loginName(name string) string {
	return strings.ToLower(CleanLine(norm.NFKC.String(firstBytes(name, 200)), 60))
}

// wrongLogIn is said whichever of the two is wrong, and of accounts that are
// not active: who works here is not for everyone to find out.
func wrongLogIn(why string) *Fault {
	return &Fault{Kind: Wrong, Say: "The name or the password is not right. Check both and try again.",
		Err: logWhy(why)}
}

type logWhy string

func (w logWhy) Error() string { return string(w) }

// LogIn lets someone in. Every try that was looked at is a line of the audit;
// after many that failed the next must wait, and is told how long. It takes as
// long for a name that is not there as for one that is.
func (d *Desk) LogIn(ctx context.Context, name, password, from string) (Staff, error) {
	name, from = loginName(name), network(from)
	if name == "" || password == "" {
		return Staff{}, &Fault{Kind: Wrong, Say: "Type your name and your password, both."}
	}
	// Those who must wait anyway do not stand in the way of the others.
	if err := d.mayTry(ctx, name, from); err != nil {
		return Staff{}, err
	}
	free, err := hashSlot(ctx)
	if err != nil {
		return Staff{}, err
	}
	defer free()
	return d.try(ctx, name, password, from)
}

func (d *Desk) mayTry(ctx context.Context, name, from string) error {
	return d.Store.Read(ctx, func(tx Tx) error { return throttle(tx, name, from, d.now()) })
}

// try is one try at a password, with a slot for hashing held. What failed is
// looked at again in here: of many tries at the same moment only as many as
// there are slots come past it before the first failure is written.
func (d *Desk) try(ctx context.Context, name, password, from string) (Staff, error) {
	var s Staff
	known := true
	err := d.Store.Read(ctx, func(tx Tx) error {
		if err := throttle(tx, name, from, d.now()); err != nil {
			return err
		}
		var err error
		if s, err = tx.StaffByName(name); KindOf(err) == NotFound {
			known, err = false, nil
		}
		return err
	})
	if err != nil {
		return Staff{}, err
	}
	why, renew := "", ""
	ok := false
	if utf8.RuneCountInString(password) > mostPassword {
		password = "" // nobody has that one, and the work stays the same
	}
	switch {
	case !known:
		_, _, err = isPassword(password, d.nobody())
		why = "no such name"
	case s.OneTime:
		ok, _, err = isPassword(bareWord(password), s.Password)
	default:
		var at PasswordCost
		if ok, at, err = isPassword(password, s.Password); ok && at != d.cost() {
			renew = hashPassword(password, d.cost())
		}
	}
	switch {
	case err != nil:
		ok, why = false, "the kept password cannot be read"
	case !known:
		ok = false
	case !ok:
		why = "wrong password"
	case !s.Active:
		ok, why = false, "account not active"
	case s.OneTime && d.now().After(s.Renewed.AddDate(0, 0, oneTimeDays)):
		ok, why = false, "one-time word too old"
	}
	broken := err
	err = d.Store.Write(ctx, func(tx Tx) error {
		if renew != "" && ok {
			// Not if it was changed at this very moment: that one counts then.
			if now, err := tx.Staff(s.ID); err == nil && now.Password == s.Password {
				now.Password = renew
				if err := tx.SaveStaff(&now); err != nil {
					return err
				}
				s = now
			}
		}
		return tx.AddLogIn(LogIn{At: d.now(), Name: name, From: from, OK: ok, Why: why})
	})
	switch {
	case err != nil:
		return Staff{}, err
	case broken != nil:
		return Staff{}, &Fault{Kind: Broken, Say: "Your account cannot be read. Ask a manager to give you a new password.", Err: broken}
	case why == "one-time word too old":
		return Staff{}, Faultf(Wrong, "This word was good for %d days, and they are over. Ask a manager for another one.", oneTimeDays)
	case !ok:
		return Staff{}, wrongLogIn(why)
	}
	return s, nil
}

func (d *Desk) cost() PasswordCost {
	if d.Passwords == (PasswordCost{}) {
		return SecondRecommended
	}
	return d.Passwords
}

// nobody is the kept password of no account: what a name that is not there is
// compared with, so that it takes as long. No password makes it.
func (d *Desk) nobody() string {
	random := make([]byte, saltBytes+hashBytes)
	rand.Read(random) // never fails: crypto/rand
	return phc(d.cost(), random[:saltBytes], random[saltBytes:])
}

// ActorFor is Standing as an error: what a session that is over can do is
// nothing.
func (d *Desk) ActorFor(ctx context.Context, id ID, from string, began time.Time) (Actor, error) {
	who, err := d.Standing(ctx, id, began, from)
	if err == nil && who.Kind == "" {
		err = Faultf(NotYours, "Your log-in is over. Log in again to go on.")
	}
	return who, err
}

func (s Staff) actor(from string) Actor {
	a := Actor{Kind: ByStaff, ID: s.ID, Name: s.Called, From: network(from), Home: s.Home, MustRenew: s.OneTime}
	if !s.OneTime {
		a.Grants = s.Grants
	}
	return a
}

// LogIns is the audit of log-ins since a time, newest first, for managers of
// all branches; an empty name or from is any.
func (d *Desk) LogIns(ctx context.Context, by Actor, since time.Time, name, from string, most int) ([]LogIn, error) {
	if !by.Everywhere() {
		return nil, onlyManagers()
	}
	var lines []LogIn
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		lines, err = tx.LogIns(since, loginName(name), from, most)
		return err
	})
	return lines, err
}

func onlyManagers() *Fault {
	return Faultf(NotYours, "This is for managers of all branches. Ask one of them to do it.")
}
