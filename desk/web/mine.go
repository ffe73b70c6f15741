package web

import (
	"errors"
	"net/http"
	"slices"
	"strings"

	"platebook/desk"
)

// mineView is a request, as its patron sees it.
type mineView struct {
	W         *words
	Path      string // of the page, and what others begin with
	Code      desk.Code
	New       bool   // just sent
	SentYou   string // that the link went by mail too
	Again     string // the form was sent before: what that means
	Say       string
	Errors    []Missed
	Standing  standingView
	Offer     *offerView
	Agreed    *agreedView
	Shelf     []Fact
	Bring     string
	Account   []Fact
	Files     []fileView
	OfAll     []findingView // what is said of every file alike
	Wish      []Fact
	Letters   []letterView
	Token     string
	AddToken  string
	Write     Field
	CanAdd    bool
	Add       Field
	CanEnd    bool // withdraw
	CanForget bool
	ForgetOn  string
}

// standingView is where a request stands: the part that is looked at again
// while a check is going.
type standingView struct {
	W     *words
	Path  string
	Lines []string
	Steps []stepView
	Live  bool
}

type stepView struct {
	Say  string
	Done bool
	Now  bool
}

// letterView is one of the conversation.
type letterView struct {
	From    string
	At      string
	Machine string
	Subject string
	Text    []string
	Ours    bool // the library's
	Folded  bool // opens when asked: what it says stands on the page by now
}

var minePage = newPage[mineView](forPatron, "patron_mine.html")

func (s *Site) mine(w http.ResponseWriter, r *http.Request, t *words) error {
	m, r, t, err := s.mineOf(r, t)
	if err != nil {
		return err
	}
	v := s.mineView(m, r.PathValue("key"), t)
	switch r.URL.Query().Get("new") {
	case "yes":
		// The address stays in the patron's browser; what it says of a new
		// request is true of a new one only.
		v.New = m.Request.State == desk.Received
		if mails(m) {
			v.SentYou = sprintf(t.SentYou, m.Request.Contact.Email)
		}
	case "again":
		v.Again = sprintf(t.AgainSay, t.moment(local(m.Request.Asked, m.Settings.Library.TimeZone)))
	}
	return show(s, w, r, http.StatusOK, minePage, v)
}

// mineStanding is the standing alone, as htmx asks for it while a check goes
// on. Once none does, it is the last that is asked for.
func (s *Site) mineStanding(w http.ResponseWriter, r *http.Request, t *words) error {
	m, r, t, err := s.mineOf(r, t)
	if err != nil {
		return err
	}
	if !byHTMX(r) {
		return s.goTo(w, r, desk.PatronPath(r.PathValue("key")))
	}
	return part(s, w, r, http.StatusOK, minePage, "standing-now", s.mineView(m, r.PathValue("key"), t))
}

// mineFile is one file, as htmx asks for it while it is checked.
func (s *Site) mineFile(w http.ResponseWriter, r *http.Request, t *words) error {
	m, r, t, err := s.mineOf(r, t)
	if err != nil {
		return err
	}
	if !byHTMX(r) {
		return s.goTo(w, r, desk.PatronPath(r.PathValue("key"))+"#file-"+r.PathValue("id"))
	}
	v := s.mineView(m, r.PathValue("key"), t)
	for _, f := range fileViews(m, v.Path, t) { // all that is said of it: the rest of the page is not made anew
		if f.ID == r.PathValue("id") {
			v.Files = []fileView{f}
			return part(s, w, r, http.StatusOK, minePage, "files", v)
		}
	}
	return desk.Faultf(desk.NotFound, "There is no such file.")
}

func (s *Site) mineWrite(w http.ResponseWriter, r *http.Request, t *words) error {
	key := r.PathValue("key")
	form, err := formOf(r)
	if err == nil {
		_, err = s.desk.PatronWrites(r.Context(), key, form, r.PostFormValue("text"))
	}
	if err != nil {
		return s.mineAgain(w, r, t, err, func(v *mineView) {
			v.Token, v.Write.Value = or(form, v.Token), r.PostFormValue("text")
		})
	}
	return s.goTo(w, r, desk.PatronPath(key)+"#letters")
}

func (s *Site) mineAdd(w http.ResponseWriter, r *http.Request, t *words) error {
	key := r.PathValue("key")
	// Who has no link must not fill the shelves, nor who has one without end.
	if !s.asking.allow(visitOf(r.Context()).from) {
		return &desk.Fault{Kind: desk.TooMany, Say: t.ManyAsks}
	}
	m, err := s.desk.Mine(r.Context(), key)
	if err != nil {
		return err
	}
	in, err := s.readSent(r, m.Settings.Rules, 1)
	defer func() { s.letGo(r, in) }() // this form keeps nothing: what is not added by now never is
	if err == nil && in.much {
		err = &desk.Fault{Kind: desk.TooMany, Say: t.ManyBytes}
	}
	var form string
	if err == nil {
		form, err = soundToken(in.Get("form"))
	}
	if err == nil {
		var up desk.Upload
		if len(in.files) > 0 {
			up = in.files[0]
		}
		_, err = s.desk.AddFile(r.Context(), key, form, up)
	}
	if err != nil {
		return s.mineAgain(w, r, t, err, func(v *mineView) { v.AddToken = or(form, v.AddToken) })
	}
	return s.goTo(w, r, desk.PatronPath(key)+"#files")
}

// mineAgain shows the page once more, with what was typed and what is wrong.
func (s *Site) mineAgain(w http.ResponseWriter, r *http.Request, t *words, err error, keep func(*mineView)) error {
	var f *desk.Fault
	if !errors.As(err, &f) || f.Kind == desk.Broken || f.Kind == desk.NotFound {
		return err
	}
	m, r, t, again := s.mineOf(r, t)
	if again != nil {
		return again
	}
	f = faultOf(inWords(err, t)) // in the language known by now
	v := s.mineView(m, r.PathValue("key"), t)
	keep(&v)
	v.Say = f.Say
	v.Write.Error, v.Add.Error = f.Fields["text"], f.Fields["files"]
	fields := []Field{v.Write}
	if v.CanAdd {
		fields = append(fields, v.Add)
	}
	v.Errors = missed(fields...)
	return show(s, w, r, statusOf(f.Kind), minePage, v)
}

// mineView gathers the page.
func (s *Site) mineView(m desk.MyRequest, key string, t *words) mineView {
	r, zone := m.Request, m.Settings.Library.TimeZone
	path := desk.PatronPath(key)
	v := mineView{W: t, Path: path, Code: r.Code, Token: formToken(), AddToken: formToken(), Standing: standing(m, path, t),
		Wish: wishFacts(m, t), Files: fileViews(m, path, t)}
	if r.State == desk.WithPatron && r.Quote != nil {
		v.Offer = offer(m, path, t)
	}
	if r.Agreement != nil && r.State != desk.Declined {
		v.Agreed = agreed(m, t)
	}
	if r.State == desk.OnShelf && r.Shelf != nil {
		v.Shelf, v.Bring = shelfFacts(m, t), sprintf(t.ShelfBring, r.Code)
	}
	v.OfAll = alike(v.Files)
	v.Account = accountFacts(m, t)
	for _, l := range m.Messages {
		at := local(l.At, zone)
		lv := letterView{From: t.Library, At: t.moment(at), Machine: machine(at), Subject: l.Subject, Text: paragraphs(l.Text), Ours: l.From != desk.ByPatron}
		if !lv.Ours {
			lv.From = t.You
		} else if l.From == desk.ByStaff && l.Who != "" {
			lv.From = l.Who
		}
		v.Letters = append(v.Letters, lv)
	}
	foldLetters(v.Letters)
	v.Write = Field{Name: "text", Label: t.WriteLabel, Hint: t.WriteHint, Rows: 4, Lang: t.Lang}
	v.CanAdd = r.State == desk.Received || r.State == desk.InReview || r.State == desk.WithPatron
	v.Add = Field{Name: "files", Label: t.AddLabel, Accept: accepting(m.Settings.Rules.Formats), Lang: t.Lang,
		Hint: desk.Endings(m.Settings.Rules.Formats, t.Lang) + ", " + t.bytes(m.Settings.Rules.MaxFile)}
	v.CanEnd = r.State.MayFollow(desk.Withdrawn)
	v.CanForget = v.CanEnd || r.State.Over()
	if r.State.Over() && !r.Due.IsZero() {
		v.ForgetOn = sprintf(t.ForgetOn, t.day(local(r.Due, zone)))
	}
	return v
}

// foldLetters folds what the library wrote before its last letter. Most of it
// says what the page says, or said.
func foldLetters(all []letterView) {
	last := true
	for i, l := range slices.Backward(all) {
		if !l.Ours {
			continue
		}
		all[i].Folded = !last && l.Subject != ""
		last = false
	}
}

// mails says whether what the library writes goes to the patron by mail too.
func mails(m desk.MyRequest) bool { return m.Settings.Mail.On && m.Request.Contact.Email != "" }

// road are the states a request that goes well passes.
var road = []desk.State{desk.Received, desk.InReview, desk.WithPatron, desk.Agreed, desk.Printing, desk.OnShelf, desk.Collected}

func standing(m desk.MyRequest, path string, t *words) standingView {
	r, zone := m.Request, m.Settings.Library.TimeZone
	v := standingView{W: t, Path: path}
	at := -1
	for i, s := range road {
		if s == r.State {
			at = i
		}
	}
	if at >= 0 {
		for i := range road {
			v.Steps = append(v.Steps, stepView{t.Steps[i], i < at || r.State == desk.Collected, i == at})
		}
	}
	switch say := t.Standing[r.State]; {
	case r.State == desk.WithPatron && r.Quote == nil:
	case r.State == desk.WithPatron && !m.Open:
		v.Lines = append(v.Lines, sprintf(t.StandingOfferOver, t.day(local(r.Quote.Until, zone))))
	case r.State == desk.WithPatron:
		v.Lines = append(v.Lines, sprintf(say, t.day(local(r.Quote.Until, zone))))
	case r.State == desk.OnShelf && r.Shelf != nil:
		v.Lines = append(v.Lines, sprintf(say, m.Branch.Name, t.day(local(r.Shelf.Until, zone))))
	case r.State == desk.Printing:
		v.Lines = append(v.Lines, say)
		if m.Plates > 1 {
			v.Lines = append(v.Lines, sprintf(t.StandingPlates, m.Printed, m.Plates))
		}
		if m.Expect.After(m.Now) {
			v.Lines = append(v.Lines, sprintf(t.StandingExpect, t.moment(local(m.Expect, zone))))
		}
	case r.State.Over():
		v.Lines = append(v.Lines, t.Ended[r.State])
		if r.Reason != "" {
			v.Lines = append(v.Lines, sprintf(t.ReasonSay, r.Reason))
		}
	case say != "":
		v.Lines = append(v.Lines, say)
		if mails(m) && (r.State == desk.Received || r.State == desk.InReview) {
			v.Lines[0] += " " + t.ByMail
		}
	}
	for _, f := range m.Files {
		if (f.Check == desk.Waiting || f.Check == desk.Checking) && !r.State.Over() {
			v.Live = true
		}
	}
	return v
}

func wishFacts(m desk.MyRequest, t *words) []Fact {
	w := m.Request.Wish
	size := t.WishAsIs
	switch {
	case w.Largest:
		size = t.WishLargest
	case w.SizeMM > 0:
		size = sprintf(t.WishSize, t.decimal(mm(w.SizeMM)))
	}
	all := []Fact{{t.SizeLabel, size}, {t.CopiesLabel, itoa(max(w.Copies, 1))}, {t.ColourLabel, or(t.colour(w.Colour), t.AnyColour)}}
	if w.Needed != "" {
		all = append(all, Fact{t.NeededLabel, t.date(w.Needed)})
	}
	if w.Purpose != "" {
		all = append(all, Fact{t.PurposeLabel, w.Purpose})
	}
	if w.Note != "" {
		all = append(all, Fact{t.NoteLabel, strings.ReplaceAll(w.Note, "\n", " ")})
	}
	if m.Branch.Name != "" {
		all = append(all, Fact{t.BranchLabel, m.Branch.Name})
	}
	return all
}
