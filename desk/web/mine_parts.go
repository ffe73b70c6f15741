package web

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"platebook/desk"
	"platebook/engine/findings"
	"platebook/engine/tariff"
)

// fileView is a file of the request.
type fileView struct {
	W       *words
	ID      string
	Path    string // of the file's own part of the page
	Name    string
	Facts   []Fact
	Working string // what its check is at; empty when it is not at it
	Say     string // how the check ended, where it found nothing to list
	Still   bool
	Alt     string
	Sheet   bool
	SheetAl string
	Mesh    bool
	Words   string // JSON: what the 3D view says, by key
	Labels  string // JSON: what stands beside its numbers
	Groups  []findingGroup
}

// findingGroup are findings of one severity.
type findingGroup struct {
	Severity findings.Severity
	Title    string
	Findings []findingView
}

// findingView is one, with its number in the pictures if it has one.
type findingView struct {
	Severity string
	Number   int
	Say      string
	Lang     string // of Say, where it is not the page's
}

// tongue is the language to mark what the engine says with: English, where that
// is all there is of it on a page in another.
func tongue(said, english, lang string) string {
	if said == english && lang != "en" {
		return "en"
	}
	return ""
}

func fileViews(m desk.MyRequest, path string, t *words) []fileView {
	var all []fileView
	zone := m.Settings.Library.TimeZone
	for _, f := range m.Files {
		v := fileView{W: t, ID: string(f.ID), Path: path + "/file/" + string(f.ID), Name: f.Name,
			Alt: sprintf(t.PictureAlt, f.Name), SheetAl: sprintf(t.SheetAlt, f.Name), Words: asJSON(t.View)}
		v.Facts = []Fact{{t.SentOn, t.moment(local(f.Sent, zone)) + ", " + t.bytes(f.Size)}}
		switch f.Check {
		case desk.Waiting:
			v.Working = t.CheckWaits
		case desk.Checking:
			v.Working = t.Checking
		case desk.Failed:
			v.Say = t.CheckFailed
		case desk.NoModel:
			v.Say = t.NotModel
		}
		if c := f.Result; c != nil && f.Check == desk.Done {
			v.checked(c, isSettled(m.Request.State), t)
		}
		all = append(all, v)
	}
	return all
}

// isSettled says whether what was to be asked about is settled in a state, one way
// or another.
func isSettled(s desk.State) bool {
	return s.Over() || s == desk.Agreed || s == desk.Printing || s == desk.OnShelf
}

func (v *fileView) checked(c *desk.Checked, settled bool, t *words) {
	v.Still, v.Sheet, v.Mesh = c.Still != "", c.Sheet != "", c.View != ""
	a := c.Answer
	if a.SizeMM[0] > 0 || a.SizeMM[1] > 0 {
		v.Facts = append(v.Facts, Fact{t.SizeFact, t.decimal(size(a.SizeMM))})
	}
	number := map[int]int{} // as in the pictures: those that point somewhere, in order
	for i, f := range a.Findings {
		if len(f.Places) > 0 {
			number[i] = len(number) + 1
		}
	}
	labels := map[int]string{}
	for _, sev := range []findings.Severity{findings.Stop, findings.Ask, findings.Note} {
		g := findingGroup{Severity: sev, Title: t.Groups[sev]}
		if sev == findings.Ask && settled {
			g.Title = t.AskedBefore
		}
		for i, f := range a.Findings {
			if f.Severity == sev {
				say := f.ToPatron(t.Lang)
				g.Findings = append(g.Findings, findingView{string(sev), number[i], say, tongue(say, f.ToPatron("en"), t.Lang)})
				if number[i] > 0 {
					labels[number[i]] = f.Label().In(t.Lang)
				}
			}
		}
		if len(g.Findings) > 0 {
			v.Groups = append(v.Groups, g)
		}
	}
	if len(v.Groups) == 0 {
		v.Say = t.Fine
	}
	v.Labels = asJSON(labels)
}

// alike takes out of files what is noted of every one of them in the same words,
// and points nowhere: a material's cautions are read once, not file by file.
func alike(files []fileView) []findingView {
	notes := func(v *fileView) *findingGroup {
		i := slices.IndexFunc(v.Groups, func(g findingGroup) bool { return g.Severity == findings.Note })
		if i < 0 {
			return nil
		}
		return &v.Groups[i]
	}
	var told []*fileView
	for i := range files {
		if len(files[i].Groups) > 0 {
			told = append(told, &files[i])
		}
	}
	if len(told) < 2 || notes(told[0]) == nil {
		return nil
	}
	var all []findingView
	for _, f := range notes(told[0]).Findings {
		if f.Number == 0 && !slices.ContainsFunc(told, func(v *fileView) bool {
			g := notes(v)
			return g == nil || !slices.Contains(g.Findings, f)
		}) {
			all = append(all, f)
		}
	}
	for _, v := range told {
		g := notes(v)
		if g == nil {
			continue
		}
		g.Findings = slices.DeleteFunc(g.Findings, func(f findingView) bool { return slices.Contains(all, f) })
		v.Groups = slices.DeleteFunc(v.Groups, func(g findingGroup) bool { return len(g.Findings) == 0 })
	}
	return all
}

// offerView are the ways offered.
type offerView struct {
	Until string
	Open  bool
	Ways  []wayView
}

// wayView is one way.
type wayView struct {
	ID, Name string
	Best     bool
	Says     string
	SaysLang string // where it is not the page's
	Price    string
	Facts    []Fact
	Lines    []Fact   // of the price
	Said     []string // how it was rounded
	SaidLang string
	Still    string // address of its picture
	To       string // where to agree to it
	Choose   string
}

func offer(m desk.MyRequest, path string, t *words) *offerView {
	q := m.Request.Quote
	v := &offerView{Until: sprintf(t.OfferUntil, t.day(local(q.Until, m.Settings.Library.TimeZone))), Open: m.Open}
	for _, w := range q.Ways {
		x := way(m, w, path, t)
		x.Best = w.ID == q.Best
		v.Ways = append(v.Ways, x)
	}
	return v
}

func way(m desk.MyRequest, w desk.Way, path string, t *words) wayView {
	locale := desk.MoneyLocale(m.Settings.Library.Locale, t.Lang)
	v := wayView{ID: w.ID, Name: desk.WayName(w.ID, t.Lang), Says: w.SaysIn(locale), Price: w.Price.Format(w.Price.Total, locale),
		To: path + "/agree?way=" + w.ID, Choose: t.ChooseThis, Said: w.PriceSaidIn(locale)}
	v.SaysLang = tongue(v.Says, w.SaysIn("en"), t.Lang)
	if len(v.Said) > 0 {
		v.SaidLang = tongue(v.Said[0], w.PriceSaid[0], t.Lang)
	}
	if w.Still != "" {
		v.Still = path + "/way/" + w.ID + "/still.png"
	}
	for i, p := range w.Parts {
		name := t.SizeFact
		if len(w.Parts) > 1 {
			name = fmt.Sprintf("%s %d", t.SizeFact, i+1)
			for _, f := range m.Files {
				if f.ID == p.File {
					name = f.Name
				}
			}
		}
		say := t.decimal(size(p.SizeMM))
		if p.Copies > 1 {
			say = fmt.Sprintf(t.SizeOfEach, p.Copies, say)
		}
		v.Facts = append(v.Facts, Fact{name, say})
	}
	v.Facts = append(v.Facts, Fact{t.TimeFact, t.lasting(w.Seconds)})
	for _, id := range slices.Sorted(maps.Keys(w.Grams)) {
		v.Facts = append(v.Facts, Fact{t.WeightFact, materialName(m.Settings, id) + ", " + t.decimal(grams(w.Grams[id]))})
	}
	if len(w.Parts) > 0 && w.Parts[0].Settings.LayerHeightMM > 0 {
		v.Facts = append(v.Facts, Fact{t.LayersFact, t.decimal(strconv.FormatFloat(w.Parts[0].Settings.LayerHeightMM, 'f', -1, 64)) + " mm"})
	}
	for _, l := range w.Price.Lines {
		v.Lines = append(v.Lines, Fact{l.Saying.Or(locale, l.Label), w.Price.Format(l.Amount, locale)})
	}
	for _, l := range w.Price.Included {
		v.Lines = append(v.Lines, Fact{l.Saying.Or(locale, l.Label), w.Price.Format(l.Amount, locale)})
	}
	v.Lines = append(v.Lines, Fact{t.CostFact, v.Price})
	return v
}

// agreedView is what was agreed to.
type agreedView struct {
	Way   wayView
	Facts []Fact
	Pays  string
}

func agreed(m desk.MyRequest, t *words) *agreedView {
	a := m.Request.Agreement
	v := &agreedView{Way: way(m, a.Way, "", t)}
	if !m.Request.State.Over() {
		v.Pays = t.FinalPrice[finalPrice(m.Settings.Rules)]
	}
	v.Facts = []Fact{{t.AgreedFact, t.moment(local(a.At, m.Settings.Library.TimeZone))}}
	if a.Guardian != "" {
		v.Facts = append(v.Facts, Fact{t.AgreedGuardian, a.Guardian})
	}
	v.Facts = append(v.Facts, v.Way.Facts...)
	return v
}

func finalPrice(r desk.Rules) desk.FinalPrice {
	if r.FinalPrice == "" {
		return desk.TheLower
	}
	return r.FinalPrice
}

func shelfFacts(m desk.MyRequest, t *words) []Fact {
	r := m.Request
	now := local(m.Now, m.Settings.Library.TimeZone)
	where := m.Branch.Name
	if m.Branch.Place != "" {
		where += ", " + m.Branch.Place
	}
	all := []Fact{{t.ShelfWhere, where}}
	if r.Shelf.Place != "" {
		all = append(all, Fact{t.ShelfPlace, r.Shelf.Place})
	}
	all = append(all, Fact{t.ShelfUntil, t.day(local(r.Shelf.Until, m.Settings.Library.TimeZone))})
	pay := t.ShelfNothing
	if m.Balance.Cmp("0") > 0 {
		pay = t.money(m.Balance, currencyOf(m), m.Settings.Library.Locale)
	}
	all = append(all, Fact{t.ShelfPay, pay}, Fact{t.ShelfHours, hoursOn(m.Branch, now, t)})
	if open, ok := desk.NextOpening(m.Branch, m.Now, m.Settings.Library.Zone()); ok && open.From.After(m.Now) {
		all = append(all, Fact{t.ShelfNext, t.moment(open.From.In(m.Settings.Library.Zone()))})
	}
	return all
}

func currencyOf(m desk.MyRequest) string {
	if len(m.Account) > 0 {
		return m.Account[0].Currency
	}
	return m.Settings.Tariff.Currency
}

func accountFacts(m desk.MyRequest, t *words) []Fact {
	if len(m.Account) == 0 {
		return nil
	}
	locale := m.Settings.Library.Locale
	var all []Fact
	for _, c := range m.Account {
		name := t.Charges[c.Kind]
		if c.Reason != "" && c.Kind != desk.PriceCharge {
			reason := c.Reason
			if said, ok := t.Paid[reason]; ok && (c.Kind == desk.Payment || c.Kind == desk.Repayment) {
				reason = said
			}
			name = t.about(name, reason)
		}
		all = append(all, Fact{name, t.money(c.Amount, c.Currency, locale)})
	}
	name, balance := t.Balance, m.Balance
	if balance.Cmp("0") < 0 {
		name, balance = t.ToRepay, balance.Neg()
	}
	return append(all, Fact{name, t.money(tariff.Decimal(balance.Number()), currencyOf(m), locale)})
}

// date is a date as it is kept, in words.
func (w *words) date(iso string) string {
	at, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	return w.day(at)
}

// sprintf fills in a sentence. A sentence without blanks stays as it is: which
// have some is held by a test.
func sprintf(form string, a ...any) string {
	if form == "" {
		return ""
	}
	return fmt.Sprintf(form, a...)
}

func itoa(n int) string { return strconv.Itoa(n) }
