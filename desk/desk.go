package desk

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"time"
)

// Desk is the service: a call on it is one thing a person or the clock does.
type Desk struct {
	Store   Store
	Shelves Shelves
	Now     func() time.Time
	// Secret makes patrons' links from the seeds kept with requests. It lies
	// beside the store, not in it: rows alone open no request.
	Secret  []byte
	Program string // version, kept with quotes
	// SetUpWord must be typed to make the first account, so that a stranger on
	// the network cannot take a new desk first; whoever starts it prints it.
	// Empty means nobody can.
	SetUpWord string
	// Passwords is what one try at a password costs; zero is SecondRecommended.
	Passwords PasswordCost
}

// now is the desk's time as both databases keep it.
func (d *Desk) now() time.Time { return d.Now().UTC().Truncate(time.Microsecond) }

// after is t, or least where that is later: what follows something else is
// later than that, also when the machine's clock was set back.
func after(t, least time.Time) time.Time {
	if t.Before(least) {
		return least
	}
	return t
}

// Key returns the secret of the request's link.
func (d *Desk) Key(r Request) string {
	mac := hmac.New(sha256.New, d.Secret)
	mac.Write([]byte("request link\x00" + string(r.ID) + "\x00" + r.KeySeed))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// change loads the request, checks its version if version is not 0, lets do
// change it, and writes it back with the history line do returns, all in tx.
func (d *Desk) change(tx Tx, id ID, version int64, by Actor, do func(*Request) (Event, error)) (Request, error) {
	r, err := tx.Request(id)
	if err != nil {
		return Request{}, err
	}
	if version != 0 && version != r.Version {
		return Request{}, stale(tx, r, version)
	}
	was := r.State
	e, err := do(&r)
	if err != nil {
		return Request{}, err
	}
	if r.State != was {
		if !was.MayFollow(r.State) {
			return Request{}, Faultf(NotNow, "This request is %s, so it cannot become %q. Reload the page to see where it stands.", was, r.State)
		}
		if e.Before == "" && e.After == "" {
			e.Before, e.After = string(was), string(r.State)
		}
	}
	r.Changed = d.now()
	if err := tx.SaveRequest(&r); err != nil {
		return Request{}, err
	}
	return r, d.note(tx, r, by, e)
}

// note adds a history line to a request that is saved already.
func (d *Desk) note(tx Tx, r Request, by Actor, e Event) error {
	e.ID, e.Request, e.Version, e.At = NewID(), r.ID, r.Version, d.now()
	e.Kind, e.Who = by.Kind, by.Name
	return tx.AddEvent(&e)
}

// stale says what the person has not seen.
func stale(tx Tx, r Request, seen int64) error {
	since, err := tx.Events(r.ID, seen)
	if err != nil {
		return err
	}
	return &Fault{Kind: Stale, Since: since,
		Say: "Someone changed this request while you had it open. What they did is listed here; look at it, then send yours again."}
}

// asJSON is for the before and after of history lines.
func asJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Sprint(v)
	}
	return string(b)
}

// Settings returns all settings as they stand.
func (d *Desk) Settings(ctx context.Context) (Settings, error) {
	var s Settings
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		s, err = settings(tx)
		return err
	})
	return s, err
}
