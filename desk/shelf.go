package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"platebook/engine/tariff"
)

// ShelfPage is what lies on the hold shelf of a branch.
type ShelfPage struct {
	Branch   Branch
	Branches []Branch
	Zone     string
	Now      time.Time
	Held     []Held        // those whose days end first come first; the first of many
	HeldMore int           // further ones, not listed
	Ready    []ReadyToHold // all weighed, to be put on this shelf; the first of many
	Over     bool          // more may be ready than are listed
}

// Most that the shelf's page lists: more than people go through. The rest is
// found by its code, and moves up.
const (
	mostHeld  = 200
	mostOfAll = 5000 // held, for whoever asks for all
	mostReady = 100
)

// Held is one request on the shelf.
type Held struct {
	Request Request
	Name    string // as on the slip
	Balance tariff.Decimal
	Owed    string // the balance, as people write it; empty when nothing is owed
	Over    bool   // its days are over
}

// ReadyToHold is a request that can be put on the shelf.
type ReadyToHold struct {
	Request Request
	Name    string // as on the slip
	From    string // branch it must come from; empty when it was printed here
}

// Slip is what is printed to lie with the print: nothing that tells who it is
// to anyone who does not know.
type Slip struct {
	Library string
	Branch  string
	Name    string // at most four letters of the surname, and an initial
	Code    Code
	Place   string
	Since   time.Time
	Until   time.Time
	Zone    string // IANA
	Things  int    // prints in the bag
}

// CollectForm is what is said when a print is handed over.
type CollectForm struct {
	Form   string
	Pay    tariff.Decimal // taken now; empty or 0 is nothing
	How    string         // "cash", "card", …
	Unpaid string         // reason to hand it over with something owed
}

// mostPlace bounds the words for a place on the shelf, in letters.
const mostPlace = 60

// onShelf loads a request of the shelf for an operator of its branch, or says
// that form was done already.
func onShelf(tx Tx, by Actor, id ID, version int64, form string, states ...State) (r Request, done bool, err error) {
	if r, err = tx.Request(id); err != nil {
		return r, false, err
	}
	if err := by.Require(r.Branch, Operator); err != nil {
		return r, false, err
	}
	if form != "" && r.Shelf != nil && r.Shelf.Form == form {
		return r, true, nil
	}
	if version != 0 && version != r.Version {
		return r, false, stale(tx, r, version)
	}
	if !slices.Contains(states, r.State) {
		return r, false, Faultf(NotNow, "%s is %s, so this cannot be done with it now. Reload the page to see where it stands.", r.Code, r.State)
	}
	return r, false, nil
}

// change of the shelf: loads, checks, changes, once for each form.
func (d *Desk) shelf(ctx context.Context, by Actor, id ID, version int64, form string, states []State, do func(Tx, Settings, *Request) (Event, error)) (Request, error) {
	var out Request
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, done, err := onShelf(tx, by, id, version, form, states...)
		if err != nil || done {
			out = r
			return err
		}
		s, err := settings(tx)
		if err != nil {
			return err
		}
		out, err = d.change(tx, id, version, by, func(r *Request) (Event, error) {
			if r.Shelf != nil {
				kept := *r.Shelf
				kept.Called = slices.Clone(kept.Called)
				r.Shelf = &kept
			}
			e, err := do(tx, s, r)
			if err == nil && r.Shelf != nil {
				r.Shelf.Form = form
			}
			return e, err
		})
		return err
	})
	if err != nil {
		return Request{}, err
	}
	return out, nil
}

// Shelve puts a printed and weighed request on the shelf of its branch, and
// tells the patron that it is ready.
func (d *Desk) Shelve(ctx context.Context, by Actor, id ID, version int64, place, form string) (Request, error) {
	return d.shelf(ctx, by, id, version, form, []State{Printing}, func(tx Tx, s Settings, r *Request) (Event, error) {
		place = CleanLine(place, mostPlace+1)
		if len([]rune(place)) > mostPlace {
			return Event{}, wrongField("place", "Say where it lies in at most %d letters.", mostPlace)
		}
		stands, _, err := standsOf(tx, *r)
		if err != nil {
			return Event{}, err
		}
		if !allDone(stands) {
			return Event{}, Faultf(NotNow, "Not all plates of %s are printed and weighed, so it cannot go on the shelf yet.", r.Code)
		}
		b, err := tx.Branch(r.Branch)
		if err != nil {
			return Event{}, err
		}
		from, err := cameFrom(tx, *r)
		if err != nil {
			return Event{}, err
		}
		now := d.now()
		r.State = OnShelf
		r.Shelf = &Shelved{Since: now, Until: endOfDay(now, s.Rules.PickupDays, s.Library.Zone()), Branch: r.Branch, Place: place}
		r.Due, r.Reminded = r.Shelf.Until, time.Time{}
		say := "Put on the hold shelf at " + b.Name
		if place != "" {
			say += ", " + place
		}
		if from != "" {
			say += "; it was printed at " + from + " and moved here"
		}
		return Event{What: "shelved", Say: fmt.Sprintf("%s. It waits until %s.", say, r.Shelf.Until.In(s.Library.Zone()).Format("2 January 2006"))},
			d.write(tx, s, *r, TextReady, "ready "+form)
	})
}

// cameFrom names the other branches where plates of r were printed.
func cameFrom(tx Tx, r Request) (string, error) {
	runs, err := tx.RunsOf(r.ID)
	if err != nil {
		return "", err
	}
	var names []string
	for _, run := range runs {
		if run.State != Weighed || run.Branch == r.Branch || r.Agreement == nil || run.Started.Before(r.Agreement.At) {
			continue
		}
		b, err := tx.Branch(run.Branch)
		if err != nil {
			return "", err
		}
		if !slices.Contains(names, b.Name) {
			names = append(names, b.Name)
		}
	}
	return strings.Join(names, " and "), nil
}

// ByMessage is the way of calling a patron that writes to them.
const ByMessage = "message"

// CallPatron notes that the patron was told again, and how; by message, the
// message that it is ready is written once more.
func (d *Desk) CallPatron(ctx context.Context, by Actor, id ID, version int64, how, form string) (Request, error) {
	return d.shelf(ctx, by, id, version, form, []State{OnShelf}, func(tx Tx, s Settings, r *Request) (Event, error) {
		how, err := whyOf("how", how, "Say how the patron was called: by message, by telephone, ….")
		if err != nil {
			return Event{}, err
		}
		r.Shelf.Called = append(r.Shelf.Called, d.now())
		e := Event{What: "called", Say: "The patron was called again: " + stop(how) + "."}
		if how != ByMessage {
			return e, nil
		}
		e.Say = "The patron was written to again: the print waits."
		return e, d.write(tx, s, *r, TextReady, fmt.Sprintf("ready %s %d", form, r.Version))
	})
}

// Collect hands a request over. What is paid at that moment is noted in the
// same step; what is still owed needs a reason.
func (d *Desk) Collect(ctx context.Context, by Actor, id ID, version int64, f CollectForm) (Request, error) {
	return d.shelf(ctx, by, id, version, f.Form, []State{OnShelf}, func(tx Tx, s Settings, r *Request) (Event, error) {
		a, err := d.account(tx, *r)
		if err != nil {
			return Event{}, err
		}
		if pays, err := a.takes(f.Pay); err != nil {
			return Event{}, err
		} else if pays {
			c, err := a.pay(f.Pay, f.How)
			if err != nil {
				return Event{}, err
			}
			c.Request, c.Form, c.Currency = r.ID, "collect "+f.Form, a.Currency
			if err := d.book(tx, *r, by, c, a.Locale); err != nil {
				return Event{}, err
			}
			if a, err = d.account(tx, *r); err != nil {
				return Event{}, err
			}
		}
		say := "Handed over. Nothing is owed."
		switch a.Balance.Cmp("0") {
		case 1:
			why, err := whyOf("unpaid", f.Unpaid, fmt.Sprintf("%s is still owed. Note what was paid, or say why it is handed over all the same.", a.Write(a.Balance)))
			if err != nil {
				return Event{}, err
			}
			say = fmt.Sprintf("Handed over with %s owed: %s.", a.Write(a.Balance), stop(why))
		case -1:
			say = fmt.Sprintf("Handed over. The library owes the patron %s.", a.Write(a.Balance.Neg()))
		}
		return Event{What: "collected", Say: say}, d.close(tx, r, Collected, "")
	})
}

// LapseNow ends a request nobody collected. Before its days are over that is a
// manager's to do.
func (d *Desk) LapseNow(ctx context.Context, by Actor, id ID, version int64, why, form string) (Request, error) {
	return d.shelf(ctx, by, id, version, form, []State{OnShelf}, func(tx Tx, s Settings, r *Request) (Event, error) {
		why, err := whyOf("lapse-why", why, "Say why it is taken off the shelf.")
		if err != nil {
			return Event{}, err
		}
		if d.now().Before(r.Shelf.Until) && !by.May(r.Branch, Manager) {
			return Event{}, Faultf(NotYours, "Its days on the shelf are not over: it waits until %s. A manager of the branch may end that sooner.",
				r.Shelf.Until.In(s.Library.Zone()).Format("2 January 2006"))
		}
		if err := d.close(tx, r, Lapsed, why); err != nil {
			return Event{}, err
		}
		return Event{What: "lapsed", Say: "Taken off the hold shelf, not collected: " + stop(why) + "."}, d.write(tx, s, *r, TextLapsed, "lapsed "+form)
	})
}

// ShelfPage gathers the shelf of a branch, the first of many or all; the empty
// branch is where the actor is at home.
func (d *Desk) ShelfPage(ctx context.Context, by Actor, branch ID, all bool) (ShelfPage, error) {
	var p ShelfPage
	most := mostHeld
	if all {
		most = mostOfAll
	}
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		p = ShelfPage{Now: d.now()}
		if p.Branch, p.Branches, err = pick(tx, by, branch, Operator); err != nil {
			return err
		}
		s, err := settings(tx)
		if err != nil {
			return err
		}
		p.Zone = s.Library.TimeZone
		here := []ID{p.Branch.ID}
		held, err := tx.ListRequests(RequestFilter{States: []State{OnShelf}, Branches: here, Soonest: true, Brief: true, Most: most})
		if err != nil {
			return err
		}
		for _, r := range held {
			if err := p.held(tx, r, s); err != nil {
				return err
			}
		}
		slices.SortStableFunc(p.Held, func(a, b Held) int { return a.Request.Shelf.Until.Compare(b.Request.Shelf.Until) })
		if len(held) == most {
			n, err := tx.CountRequests(RequestFilter{States: []State{OnShelf}, Branches: here})
			if err != nil {
				return err
			}
			p.HeldMore = n[OnShelf] - len(held)
		}
		printing, err := tx.ListRequests(RequestFilter{States: []State{Printing}, Branches: here, Brief: true, Most: mostPrinting})
		if err != nil {
			return err
		}
		runs, err := runsOf(tx, printing)
		if err != nil {
			return err
		}
		p.Over = len(printing) == mostPrinting
		for _, r := range printing {
			if !allDone(Stands(r, runs[r.ID], 0)) {
				continue
			}
			if len(p.Ready) == mostReady {
				p.Over = true
				break
			}
			if err := p.ready(tx, r); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return ShelfPage{}, err
	}
	return p, nil
}

func (p *ShelfPage) ready(tx Tx, r Request) error {
	from, err := cameFrom(tx, r)
	p.Ready = append(p.Ready, ReadyToHold{r, SlipName(r.Contact), from})
	return err
}

func (p *ShelfPage) held(tx Tx, r Request, s Settings) error {
	if r.Shelf == nil {
		return nil
	}
	lines, err := tx.Charges(r.ID)
	if err != nil {
		return err
	}
	h := Held{Request: r, Name: SlipName(r.Contact), Over: p.Now.After(r.Shelf.Until)}
	if h.Balance, err = balance(lines); err != nil {
		return err
	}
	if h.Balance.Cmp("0") != 0 && len(lines) > 0 {
		h.Owed = tariff.Price{Currency: lines[0].Currency}.Format(h.Balance, s.Library.Locale)
	}
	p.Held = append(p.Held, h)
	return nil
}

// Slip is the slip of a request that is on the shelf, or about to be.
func (d *Desk) Slip(ctx context.Context, by Actor, id ID) (Slip, error) {
	var slip Slip
	err := d.Store.Read(ctx, func(tx Tx) error {
		r, _, err := onShelf(tx, by, id, 0, "", OnShelf, Printing)
		if err != nil {
			return err
		}
		s, err := settings(tx)
		if err != nil {
			return err
		}
		b, err := tx.Branch(r.Branch)
		if err != nil {
			return err
		}
		slip = Slip{Library: s.Library.Name, Branch: b.Name, Name: SlipName(r.Contact), Code: r.Code, Zone: s.Library.TimeZone,
			Since: d.now(), Until: endOfDay(d.now(), s.Rules.PickupDays, s.Library.Zone())}
		if r.Shelf != nil {
			slip.Place, slip.Since, slip.Until = r.Shelf.Place, r.Shelf.Since, r.Shelf.Until
		}
		if r.Agreement != nil {
			for _, p := range r.Agreement.Way.Parts {
				slip.Things += max(1, p.Copies)
			}
		}
		return nil
	})
	if err != nil {
		return Slip{}, err
	}
	return slip, nil
}

// Scanned finds the request of a code as it was scanned or typed, for an
// operator of its branch.
func (d *Desk) Scanned(ctx context.Context, by Actor, text string) (Request, error) {
	code, ok := SpokenCode(text)
	if !ok {
		return Request{}, wrongField("code", "That is no code. A code is a letter, a figure and three figures, like K7-204.")
	}
	var r Request
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		if r, err = tx.RequestByCode(code); KindOf(err) == NotFound {
			return &Fault{Kind: NotFound, Say: fmt.Sprintf("There is no request %s. Check the slip, or find it by name.", code), Fields: map[string]string{"code": "There is no request with this code."}}
		} else if err != nil {
			return err
		}
		return by.Require(r.Branch, Operator, Reviewer)
	})
	if err != nil {
		return Request{}, err
	}
	return r, nil
}
