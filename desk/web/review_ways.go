package web

import (
	"maps"
	"slices"
	"strings"

	"platebook/desk"
)

// waysView are the ways found, and the offer made of them.
type waysView struct {
	Path    string
	Version int64
	Working string // while they are being found
	Live    bool
	Trouble string
	Beside  bool // there is a picture of all
	Found   []findingGroup
	Same    bool // the findings are those of the files, so they are not said again
	Ways    []deskWay
	Without []string
	Instead []string
	Offered bool // they are with the patron, or agreed
	Offer   *offerForm
	Missing []string
}

// deskWay is one way, as staff choose it.
type deskWay struct {
	ID, Name, Says, Price string
	Still                 string
	Facts                 []Fact
	Lines                 []Fact // of the price
	Said                  []string
	TooLong               string
	Chosen, Best          bool
	Agreed                bool
	Pick                  bool // can be chosen for an offer
}

// offerForm is the message that goes with the ways chosen.
type offerForm struct {
	Ways    Field // for what is wrong with the choice
	Best    Field
	Subject Field
	Text    Field
}

func waysOf(l desk.RequestView) *waysView {
	r := l.Request
	v := &waysView{Path: requestPath(r.Code), Version: r.Version, Without: r.Basis.Without, Instead: r.Basis.Instead, Trouble: r.Basis.Trouble,
		Beside: r.Basis.Picture != "", Found: groupsOf(r.Basis.Finding)}
	if v.Same = sameFindings(l); v.Same {
		v.Found = nil
	}
	ways := r.Ways
	switch {
	case r.Quote != nil:
		ways, v.Offered = r.Quote.Ways, true
	case r.Basis.State == desk.Waiting:
		v.Working, v.Live = "Ways wait to be found.", true
	case r.Basis.State == desk.Checking:
		v.Working, v.Live = or(r.Basis.Doing, "Ways are being found")+" …", true
	case r.Basis.State == desk.Failed:
		v.Trouble = "The finding of ways failed by a mistake of ours. " + or(r.Basis.Trouble, "Save the plan again to try once more.")
	}
	can := l.Reviews && r.State == desk.InReview && !v.Live && len(ways) > 0
	// A larger print costs many times more: it is offered to whoever wished for
	// it, where nothing else can be offered, or when staff tick it.
	only := !slices.ContainsFunc(ways, func(w desk.Way) bool { return w.ID != "largest" && l.TooLong(w) == "" })
	wished := r.Wish.Largest || slices.ContainsFunc(l.Plan.Parts, func(p desk.PartPlan) bool { return p.Largest })
	var chosen []string
	best := ""
	for _, w := range ways {
		d := deskWayOf(l, w)
		d.Pick = can && d.TooLong == ""
		if d.Chosen = d.TooLong == "" && (w.ID != "largest" || wished || only); d.Chosen {
			chosen = append(chosen, w.ID)
			best = or(best, w.ID)
		}
		d.Agreed = r.Agreement != nil && r.Agreement.Way.ID == w.ID
		v.Ways = append(v.Ways, d)
	}
	if r.Quote != nil {
		best = r.Quote.Best
	}
	v.best(best)
	if can && len(chosen) > 0 {
		v.Missing = l.Missing
		v.Offer = &offerForm{Ways: Field{Name: "offer-ways", Label: "Ways to offer"}, Best: Field{Name: "offer-best", Label: "The way we would take", Value: best},
			Subject: Field{Name: "offer-subject", Label: "Subject"}, Text: Field{Name: "offer-text", Label: "Letter", Hint: "Left as it is, it follows the ways you tick.", Rows: 14}}
		v.Offer.draft(l, chosen, best)
	}
	return v
}

// sameFindings says whether what was found at the planned size is word for word
// what stands with the files already.
func sameFindings(l desk.RequestView) bool {
	seen, of := map[string]bool{}, map[string]bool{}
	for _, f := range l.Request.Basis.Finding {
		seen[string(f.Severity)+f.Message] = true
	}
	for _, f := range l.Files {
		if f.Result != nil && f.Check == desk.Done {
			for _, x := range f.Result.Answer.Findings {
				of[string(x.Severity)+x.Message] = true
			}
		}
	}
	return len(seen) > 0 && maps.Equal(seen, of)
}

// best marks the way staff would take.
func (v *waysView) best(id string) {
	for i := range v.Ways {
		v.Ways[i].Best = v.Ways[i].ID == id
	}
}

// choose ticks ways as they were sent.
func (v *waysView) choose(ids []string, best string) {
	for i := range v.Ways {
		v.Ways[i].Chosen = slices.Contains(ids, v.Ways[i].ID)
	}
	v.best(best)
}

func (f *offerForm) draft(l desk.RequestView, ways []string, best string) {
	t := l.Draft(desk.TextOffer, ways, best, "")
	f.Subject.Value, f.Text.Value = t.Subject, t.Body
}

func deskWayOf(l desk.RequestView, w desk.Way) deskWay {
	locale := l.Settings.Library.Locale
	here := desk.MoneyLocale(locale, "en") // staff pages are English
	d := deskWay{ID: w.ID, Name: desk.WayName(w.ID, "en"), Says: w.Saying.Or(here, w.Says), Price: w.Price.Format(w.Price.Total, locale), Said: w.PriceSaid, TooLong: l.TooLong(w)}
	if w.Still != "" {
		d.Still = requestPath(l.Request.Code) + "/way/" + w.ID + "/still"
	}
	for _, p := range w.Parts {
		name := "Size"
		for _, f := range l.Files {
			if f.ID == p.File && len(w.Parts) > 1 {
				name = f.Name
			}
		}
		say := size(p.SizeMM)
		if p.Copies > 1 {
			say = itoa(p.Copies) + ", each " + say
		}
		d.Facts = append(d.Facts, Fact{name, say})
	}
	d.Facts = append(d.Facts, Fact{"Time", lasting(w.Seconds)})
	if n := len(w.Plates); n > 1 {
		var each []string
		for _, p := range w.Plates {
			each = append(each, lasting(p.Seconds))
		}
		d.Facts = append(d.Facts, Fact{"Plates", itoa(n) + ": " + strings.Join(each, ", ")})
	}
	for _, id := range slices.Sorted(maps.Keys(w.Grams)) {
		d.Facts = append(d.Facts, Fact{materialName(l.Settings, id), grams(w.Grams[id])})
	}
	if len(w.Parts) > 0 {
		p := w.Parts[0]
		d.Facts = append(d.Facts, Fact{"Layers", number(p.Settings.LayerHeightMM) + " mm, " + number(p.Settings.InfillPercent) + " % full"},
			Fact{"Supports", or(p.Settings.Supports, "none") + "; base: " + or(p.Settings.Base, "none")})
		if p.Pose != "" {
			d.Facts = append(d.Facts, Fact{"Pose", p.Pose})
		}
	}
	for _, x := range append(slices.Clone(w.Price.Lines), w.Price.Included...) {
		d.Lines = append(d.Lines, Fact{x.Saying.Or(here, x.Label), w.Price.Format(x.Amount, locale)})
	}
	d.Lines = append(d.Lines, Fact{"Total", d.Price})
	return d
}
