package web

import (
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"platebook/desk"
)

// askView is the form for asking.
type askView struct {
	W      *words
	Others []otherLanguage
	Form   string // its once-only token
	Lang   string
	Terms  int // version shown
	Say    string
	Errors []Missed

	Kept     []keptView
	Files    Field
	Size     Field
	Length   Field
	Unit     Field
	Colour   Field
	Copies   Field
	Needed   Field
	Purpose  Field
	Note     Field
	Name     Field
	Email    Field
	Phone    Field
	Card     Field
	Language Field
	Branch   Field
	AskAge   bool
	Age      Field
	Guardian Field
	Rights   Field
	Accept   Field
	TermText []string
	Privacy  string
}

// keptView is a file that is with us already.
type keptView struct{ Value, Hash, Name, Size string }

var askPage = newPage[askView](forPatron, "patron_ask.html")

func (s *Site) askForm(w http.ResponseWriter, r *http.Request, t *words) error {
	f, err := s.desk.AskPage(r.Context())
	if err != nil {
		return err
	}
	if len(f.Branches) == 0 {
		return s.goTo(w, r, "/"+inLang(r)) // where it says so, or leads who set up the desk on
	}
	in := sent{Values: map[string][]string{"size": {"asis"}, "unit": {"mm"}, "copies": {"1"}, "form": {formToken()}, "language": {t.Lang}}}
	if len(f.Branches) == 1 {
		in.Set("branch", string(f.Branches[0].ID))
	}
	if b := r.URL.Query().Get("branch"); b != "" {
		in.Set("branch", b)
	}
	return show(s, w, r, http.StatusOK, askPage, s.askView(f, in, nil, nil, t))
}

func (s *Site) askSend(w http.ResponseWriter, r *http.Request, t *words) error {
	if !s.asking.allow(visitOf(r.Context()).from) {
		return &desk.Fault{Kind: desk.TooMany, Say: t.ManyAsks}
	}
	f, err := s.desk.AskPage(r.Context())
	if err != nil {
		return err
	}
	in, err := s.readSent(r, f.Settings.Rules, f.Settings.Rules.MaxFiles)
	if err != nil {
		return s.askAgain(w, r, t, f, in, err)
	}
	if in.much {
		return s.askAgain(w, r, t, f, in, &desk.Fault{Kind: desk.TooMany, Say: t.ManyBytes})
	}
	if l := speak(r, f.Settings.Library, in.Get("lang")); in.Get("lang") != "" {
		t, r = l, withWords(r, l)
	}
	form, err := soundToken(in.Get("form"))
	if err != nil {
		return s.askAgain(w, r, t, f, in, err)
	}
	files := slices.Concat(s.keptOf(form, in), in.files)
	sub := submission(form, in, files, t)
	sub.From = visitOf(r.Context()).from
	got, err := s.desk.Submit(r.Context(), sub, desk.APatron())
	if err != nil {
		return s.askAgain(w, r, t, f, in, err)
	}
	s.letGo(r, in) // a second sending may have brought what the first did not
	to := desk.PatronPath(got.Key) + "?new=yes"
	if got.Again {
		to = desk.PatronPath(got.Key) + "?new=again"
	}
	return s.goTo(w, r, to)
}

// askAgain shows the form once more with everything typed, and the files that
// came whole kept, if mending the form will do. Only what is no one's to mend
// goes to the fault page.
func (s *Site) askAgain(w http.ResponseWriter, r *http.Request, t *words, f desk.AskFacts, in sent, err error) error {
	err = inWords(err, t)
	fault := faultOf(err)
	if fault.Kind != desk.Wrong && fault.Kind != desk.Stale && fault.Kind != desk.NoRoom || r.Context().Err() != nil {
		// Sending it again will not do, or nobody is there who could.
		s.letGo(r, in)
		in.files = nil
	}
	if fault.Kind == desk.Broken {
		return err
	}
	if fault.Kind == desk.NoRoom {
		s.log.Error("asking", "request", visitOf(r.Context()).id, "err", err)
	}
	form, tokenErr := soundToken(in.Get("form"))
	if tokenErr != nil || fault.Kind == desk.Wrong && len(fault.Fields) == 0 && fault.Err == nil {
		// The form cannot be sent as it is. Its files are sealed for it: read
		// them by its token first.
		in.files = slices.Concat(s.keptOf(form, in), in.files)
		in.Del("kept")
		in.Set("form", formToken())
	}
	return show(s, w, r, statusOf(fault.Kind), askPage, s.askView(f, in, fault, fault.Fields, t))
}

// keptOf are the files that came with an earlier sending of the form, without
// those the person left out.
func (s *Site) keptOf(form string, in sent) []desk.Upload {
	return slices.DeleteFunc(s.kept(form, in.Values["kept"]), func(u desk.Upload) bool {
		return slices.Contains(in.Values["drop"], string(u.Hash))
	})
}

// submission reads the form's answers. What is no number comes out as one that
// the desk will not have, and says so beside the field.
func submission(form string, in sent, files []desk.Upload, t *words) desk.Submission {
	w := desk.Wish{Purpose: in.Get("purpose"), Needed: strings.TrimSpace(in.Get("needed")), Note: in.Get("note"),
		Colour: in.Get("colour"), Rights: in.Get("rights") != "", Copies: wholeNumber(in.Get("copies")), Terms: wholeNumber(in.Get("terms"))}
	switch length := strings.TrimSpace(in.Get("length")); {
	case in.Get("size") == "largest":
		w.Largest = true
	case length != "":
		w.SizeMM = lengthMM(length, in.Get("unit"))
	case in.Get("size") == "length":
		w.SizeMM = -1
	}
	c := desk.Contact{Name: in.Get("name"), Email: in.Get("email"), Phone: in.Get("phone"), Card: in.Get("card"),
		Language: or(in.Get("language"), t.Lang)}
	if in.Get("age") == "under" {
		c.Guardian = in.Get("guardian")
	}
	return desk.Submission{Form: form, Source: "page", Branch: desk.ID(in.Get("branch")), Contact: c, Wish: w,
		Files: files, Accept: in.Get("accept") != "", Age: oneOf(in.Get("age"), "under", "over")}
}

// oneOf is s if it is one of some words, else empty.
func oneOf(s string, words ...string) string {
	if slices.Contains(words, s) {
		return s
	}
	return ""
}

// wholeNumber is -1 for what is none.
func wholeNumber(s string) int {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil || n < 0 {
		return -1
	}
	return n
}

// lengthMM is in mm, to a hundredth; -1 for what is no length. A decimal comma
// is as good as a point.
func lengthMM(s, unit string) float64 {
	x, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil || !(x > 0) || x > 1e6 {
		return -1
	}
	switch unit {
	case "cm":
		x *= 10
	case "in":
		x *= 25.4
	}
	return math.Round(x*100) / 100
}
