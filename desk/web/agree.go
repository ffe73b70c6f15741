package web

import (
	"errors"
	"net/http"
	"net/url"

	"platebook/desk"
	"platebook/engine/say"
)

// agreeView is the page to agree to one way on.
type agreeView struct {
	W        *words
	Path     string // of the request's page
	Code     desk.Code
	Token    string
	Version  int64
	Terms    int
	Say      string
	Since    []Told
	Errors   []Missed
	Way      *wayView
	Chosen   string // that it is the way chosen
	Pays     string
	Read     []string // what the print is not for
	TermText []string
	Cautions Field
	Rights   *Field
	Age      *Field
	Guardian *Field
	Accept   *Field
}

var agreePage = newPage[agreeView](forPatron, "patron_agree.html")

func (s *Site) agreeForm(w http.ResponseWriter, r *http.Request, t *words) error {
	m, r, t, err := s.mineOf(r, t)
	if err != nil {
		return err
	}
	key, id := r.PathValue("key"), r.URL.Query().Get("way")
	v := agreePageOf(m, desk.PatronPath(key), id, url.Values{}, t)
	if !m.Open || v.Way == nil {
		return s.goTo(w, r, desk.PatronPath(key)) // it says there what stands
	}
	return show(s, w, r, http.StatusOK, agreePage, v)
}

func (s *Site) agreeSend(w http.ResponseWriter, r *http.Request, t *words) error {
	key := r.PathValue("key")
	form, err := formOf(r)
	if err == nil {
		_, err = s.desk.Agree(r.Context(), key, desk.AgreeForm{Form: form, Version: int64(max(wholeNumber(r.PostFormValue("version")), 1)),
			Way: r.PostFormValue("way"), Terms: wholeNumber(r.PostFormValue("terms")), Accept: r.PostFormValue("accept") != "",
			Cautions: r.PostFormValue("cautions") != "", Rights: r.PostFormValue("rights") != "",
			Age: oneOf(r.PostFormValue("age"), "under", "over"), Guardian: r.PostFormValue("guardian")})
	}
	if err == nil {
		return s.goTo(w, r, desk.PatronPath(key))
	}
	var f *desk.Fault
	if !errors.As(err, &f) || f.Kind == desk.Broken || f.Kind == desk.NotFound {
		return err
	}
	m, r, t, again := s.mineOf(r, t)
	if again != nil {
		return again
	}
	v := agreePageOf(m, desk.PatronPath(key), r.PostFormValue("way"), r.PostForm, t)
	if !m.Open || v.Way == nil {
		// What was to be agreed to is not there any more: say so where it is seen what is.
		return s.mineAgain(w, r, t, err, func(*mineView) {})
	}
	v.Say, v.Token = f.Say, or(form, v.Token)
	v.Since = changes(f.Since, m.Settings.Library.TimeZone, t)
	v.mark(f.Fields, t)
	return show(s, w, r, statusOf(f.Kind), agreePage, v)
}

// changes are the lines of history a patron is told of.
func changes(since []desk.Event, zone string, t *words) []Told {
	var all []Told
	for _, e := range since {
		line := Told{At: local(e.At, zone), Day: t.moment(local(e.At, zone)), Who: t.You, Say: e.Say}
		if e.Kind != desk.ByPatron {
			line.Who, line.Say = t.Library, t.stateName(desk.State(e.After))
		}
		all = append(all, line)
	}
	return all
}

// stateName is a state in the patron's words.
func (w *words) stateName(s desk.State) string {
	for i, r := range road {
		if r == s {
			return w.Steps[i]
		}
	}
	return w.Ended[s]
}

func agreePageOf(m desk.MyRequest, path, id string, in url.Values, t *words) agreeView {
	r, set := m.Request, m.Settings
	v := agreeView{W: t, Path: path, Code: r.Code, Token: formToken(), Version: r.Version, Terms: set.Versions[desk.TermsSetting],
		Pays: t.FinalPrice[finalPrice(set.Rules)]}
	if r.Quote != nil {
		for _, x := range r.Quote.Ways {
			if x.ID == id {
				w := way(m, x, path, t)
				v.Way, v.Read, v.Chosen = &w, cautions(set, x, t), t.about(t.ChosenTitle, w.Name)
			}
		}
	}
	v.Cautions = Field{Name: "cautions", Label: t.CautionsLabel, Value: in.Get("cautions")}
	if !r.Wish.Rights {
		v.Rights = &Field{Name: "rights", Label: t.RightsLabel, Hint: t.RightsHint, Value: in.Get("rights")}
	}
	age := set.Rules.Age
	asks := age > 0 && r.Source != "page" && !r.Contact.UnderAge
	if asks {
		v.Age = &Field{Name: "age", Label: sprintf(t.AgreeAge, age), Value: in.Get("age"), Choices: []Choice{
			{Value: "over", Label: sprintf(t.AgreeAgeOver, age)}, {Value: "under", Label: sprintf(t.AgreeAgeUnder, age)}}}
	}
	if age > 0 && (asks || r.Contact.UnderAge) {
		v.Guardian = &Field{Name: "guardian", Label: t.AgreeGuardianLabel, Hint: sprintf(t.AgreeGuardianHint, age), Optional: asks,
			Value: or(in.Get("guardian"), r.Contact.Guardian)}
		if asks {
			v.Guardian.Hint = t.GuardianHint
		}
	}
	if text := set.TermsIn(t.Lang); text != "" {
		v.TermText = paragraphs(text)
		v.Accept = &Field{Name: "accept", Label: t.AgreeLabel, Value: in.Get("accept")}
		if r.Contact.UnderAge && age > 0 {
			v.Accept.Label = t.GuardianAgreeLabel
		}
	}
	return v
}

func (v *agreeView) mark(wrong map[string]string, t *words) {
	v.Errors = nil
	for _, f := range []*Field{&v.Cautions, v.Rights, v.Age, v.Guardian, v.Accept} {
		if f == nil {
			continue
		}
		f.Lang = t.Lang
		mark(wrong, f)
		v.Errors = append(v.Errors, missed(*f)...)
	}
}

// cautions are the library's, and those of the way's materials.
func cautions(set desk.Settings, w desk.Way, t *words) []string {
	all := append([]string(nil), set.Cautions(t.Lang)...)
	c, err := desk.Catalogue(set)
	if err != nil {
		return all
	}
	for _, id := range w.Material {
		if m, err := c.Material(id); err == nil {
			if len(m.Cautions) > 0 {
				var said []say.Saying
				for _, c := range m.Cautions {
					said = append(said, say.Text(c))
				}
				all = append(all, say.Of("%s: %s", m.Name, say.Join(" ", said...)).In(t.Lang))
			}
		}
	}
	return all
}
