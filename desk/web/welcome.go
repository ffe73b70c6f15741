package web

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"platebook/desk"
	"platebook/engine/tariff"
)

// welcomeView is the front page.
type welcomeView struct {
	W        *words
	Others   []otherLanguage
	Costs    []string
	Can      []Fact
	Branches []branchToday
	Ask      string // link to the form
}

// otherLanguage leads to the same page in another language.
type otherLanguage struct{ Lang, Say, To string }

// branchToday is a branch and when it is open today.
type branchToday struct{ Name, Place, Hours string }

var welcomePage = newPage[welcomeView](forPatron, "patron_welcome.html")

func (s *Site) welcome(w http.ResponseWriter, r *http.Request, t *words) error {
	f, err := s.desk.AskPage(r.Context())
	if err != nil {
		return err
	}
	if f.Settings.Versions[desk.LibrarySetting] == 0 { // perhaps nobody has set the desk up
		if need, err := s.desk.NeedsManager(r.Context()); err != nil {
			return err
		} else if need {
			return s.goTo(w, r, "/first")
		}
	}
	rules := f.Settings.Rules
	v := welcomeView{W: t, Others: others(f.Settings.Library, t, "/"), Costs: costs(f.Settings, t), Ask: "/ask" + inLang(r)}
	v.Can = append(v.Can, Fact{t.CanFiles, fmt.Sprintf(t.CanFilesSay, desk.Endings(rules.Formats, t.Lang), t.bytes(rules.MaxFile))})
	if rules.Longest.Duration > 0 {
		v.Can = append(v.Can, Fact{t.CanLongest, fmt.Sprintf(t.CanLongestSay, t.lasting(rules.Longest.Seconds()))})
	}
	if rules.PerMonth > 0 {
		v.Can = append(v.Can, Fact{t.CanMonth, fmt.Sprintf(t.CanMonthSay, rules.PerMonth)})
	}
	if rules.PickupDays > 0 {
		v.Can = append(v.Can, Fact{t.CanKeep, fmt.Sprintf(t.CanKeepSay, rules.PickupDays)})
	}
	if rules.Age > 0 {
		v.Can = append(v.Can, Fact{t.CanAge, fmt.Sprintf(t.CanAgeSay, rules.Age)})
	}
	for _, b := range f.Branches {
		v.Branches = append(v.Branches, branchToday{b.Name, b.Place, hoursOn(b, f.Today, t)})
	}
	return show(s, w, r, http.StatusOK, welcomePage, v)
}

// inLang keeps the language asked for on to the next page.
func inLang(r *http.Request) string {
	if w := tongueOf(r.URL.Query().Get("lang")); w != nil {
		return "?lang=" + w.Lang
	}
	return ""
}

func others(l desk.Library, t *words, path string) []otherLanguage {
	var all []otherLanguage
	for _, o := range spoken(l) {
		if o != t {
			all = append(all, otherLanguage{o.Lang, o.InLanguage, path + "?lang=" + o.Lang})
		}
	}
	return all
}

// hoursOn says when a branch is open on the day of now, on the branch's clock.
func hoursOn(b desk.Branch, now time.Time, t *words) string {
	for _, c := range b.Closed {
		if c.Date == now.Format(time.DateOnly) {
			if c.Why != "" {
				return fmt.Sprintf(t.ClosedTodayWhy, c.Why)
			}
			return t.ClosedToday
		}
	}
	var spans []string
	open := false
	at := now.Hour()*60 + now.Minute()
	for _, h := range b.Hours[now.Weekday()] {
		spans = append(spans, fmt.Sprintf(t.OpenFromTo, wallClock(h.From), wallClock(h.To)))
		open = open || h.From <= at && at < h.To
	}
	if len(spans) == 0 {
		return t.ClosedToday
	}
	say := strings.Join(spans, ", ")
	if open {
		say += " (" + t.OpenNow + ")"
	}
	return say
}

// wallClock writes minutes after midnight: "09:30".
func wallClock(minutes int) string { return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60) }

// costs puts the tariff into lines a patron can read.
func costs(set desk.Settings, t *words) []string {
	x := set.Tariff
	say := func(d tariff.Decimal) string { return t.money(d, x.Currency, set.Library.Locale) }
	some := func(d tariff.Decimal) bool { return d.Cmp("0") > 0 }
	var all []string
	if some(x.SetUp) {
		per := x.SetUpPer
		if per == "" {
			per = tariff.PerRequest
		}
		all = append(all, fmt.Sprintf(t.CostSetUp[per], say(x.SetUp)))
	}
	materials := slices.Sorted(maps.Keys(x.PerGram))
	for _, id := range materials {
		if some(x.PerGram[id]) {
			all = append(all, fmt.Sprintf(t.CostGram, materialName(set, id), say(x.PerGram[id])))
		}
	}
	if some(x.PerGramOther) {
		if len(all) > 0 && len(materials) > 0 {
			all = append(all, fmt.Sprintf(t.CostGramOther, say(x.PerGramOther)))
		} else {
			all = append(all, fmt.Sprintf(t.CostGramAny, say(x.PerGramOther)))
		}
	}
	if some(x.PerHour) {
		all = append(all, fmt.Sprintf(t.CostHour, say(x.PerHour)))
	}
	if len(all) == 0 && !some(x.Minimum) {
		return []string{t.CostFree}
	}
	if some(x.Minimum) {
		all = append(all, fmt.Sprintf(t.CostLeast, say(x.Minimum)))
	}
	for _, tax := range x.Taxes {
		form := t.CostTaxOn
		if x.TaxIncluded {
			form = t.CostTax
		}
		all = append(all, fmt.Sprintf(form, tax.Name, t.decimal(tax.Percent.Number())))
	}
	return all
}

func materialName(set desk.Settings, id string) string {
	if c, err := desk.Catalogue(set); err == nil {
		if m, err := c.Material(id); err == nil && m.Name != "" {
			return m.Name
		}
	}
	return strings.ToUpper(id)
}
