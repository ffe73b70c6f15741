package web

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"platebook/desk"
)

// letterRoutes are the pages of letters that wait for a person, and of those
// that could not be sent.
func (s *Site) letterRoutes() {
	s.staff("GET /desk/letters", s.letters)
	s.staff("GET /desk/letters/kept/{kind}", s.lettersKept)
	s.staff("GET /desk/letters/{id}", s.letter)
	s.staff("POST /desk/letters/{id}/{what}", s.letterDo)
	s.staff("POST /desk/letters/out/{id}/again", s.letterAgain)
	s.staff("POST /desk/letters/out/{id}/settle", s.letterSettle)
	s.staff("GET /desk/letters/out/{id}/request", s.letterRequest)
}

type lettersView struct {
	Troubles []string
	Waiting  []letterLine
	More     bool // wait than are listed
	Failed   []letterOut
	Machines letterList
	Aside    letterList
}

// letterList is a quiet list: nothing in it waits for anybody.
type letterList struct {
	Lines []letterLine
	Older string // where it goes on
}

type letterLine struct {
	Path, From, Subject, Why string
	Files                    int
	Came                     time.Time
}

type letterOut struct {
	ID          desk.ID
	To, Subject string
	Trouble     string
	Made        time.Time
	Request     string // path of the request it is about
}

var lettersPage = newPage[lettersView](forStaff, "letters.html")

// How many letters of a quiet list stand on the page of all, and on their own.
const fewKept, mostKept = 5, 30

func (s *Site) letters(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	waiting, lost, more, err := s.desk.MailWaiting(r.Context(), who)
	if err != nil {
		return err
	}
	zone := s.zone(r)
	v := lettersView{Troubles: s.mailTroubles(), Waiting: letterLines(waiting, zone), More: more}
	for _, p := range lost {
		o := letterOut{ID: p.ID, To: p.Body.To, Subject: p.Body.Subject, Trouble: p.Trouble, Made: local(p.Made, zone)}
		if p.Request != "" {
			o.Request = "/desk/letters/out/" + string(p.ID) + "/request"
		}
		v.Failed = append(v.Failed, o)
	}
	for kind, list := range map[desk.MailKept]*letterList{desk.FromMachines: &v.Machines, desk.PutAside: &v.Aside} {
		if *list, err = s.keptLetters(r, who, kind, "", fewKept); err != nil {
			return err
		}
	}
	return show(s, w, r, http.StatusOK, lettersPage, v)
}

// keptLetters is a page of a quiet list.
func (s *Site) keptLetters(r *http.Request, who desk.Actor, kind desk.MailKept, after desk.ID, most int) (letterList, error) {
	letters, more, err := s.desk.KeptMail(r.Context(), who, kind, after, most)
	if err != nil {
		return letterList{}, err
	}
	list := letterList{Lines: letterLines(letters, s.zone(r))}
	if more {
		list.Older = "/desk/letters/kept/" + string(kind) + "?after=" + url.QueryEscape(string(letters[len(letters)-1].ID))
	}
	return list, nil
}

type quietView struct {
	Title, Say string
	List       letterList
	First      string // of the list, when this page is not it
}

var quietPage = newPage[quietView](forStaff, "letters_kept.html")

// lettersKept goes through a quiet list, page by page.
func (s *Site) lettersKept(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	kind := desk.MailKept(r.PathValue("kind"))
	v := quietView{}
	switch kind {
	case desk.FromMachines:
		v.Title, v.Say = "From machines", "Automatic answers, letters of lists, and reports on delivery. None was answered. They are forgotten after the days the library has set."
	case desk.PutAside:
		v.Title, v.Say = "Put aside", "Letters that asked for nothing more. They are forgotten after the days the library has set."
	default:
		return notFound()
	}
	after := desk.ID(r.FormValue("after"))
	var err error
	if v.List, err = s.keptLetters(r, who, kind, after, mostKept); err != nil {
		return err
	}
	if after != "" {
		v.First = "/desk/letters/kept/" + string(kind)
	}
	return show(s, w, r, http.StatusOK, quietPage, v)
}

func letterLines(all []desk.Mail, zone string) []letterLine {
	var lines []letterLine
	for _, l := range all {
		lines = append(lines, letterLine{Path: "/desk/letters/" + string(l.ID), From: fromSaid(l.Body), Subject: l.Body.Subject, Why: whySaid(l),
			Files: len(l.Body.Files), Came: local(l.Came, zone)})
	}
	return lines
}

// whySaid is why a letter is where it is.
func whySaid(l desk.Mail) string {
	b := l.Body
	switch {
	case l.State == desk.MailAside && l.By != "":
		return strings.TrimSpace("Put aside by " + l.By + ". " + b.Why)
	case b.Why != "":
		return b.Why
	case b.Returned != nil && b.Returned.Final:
		return "It says that a letter to " + or(b.Returned.For, "somebody") + " came back: " + or(b.Returned.Says, b.Returned.Status, "no reason is given") + "."
	case b.Returned != nil:
		return "It says that a letter to " + or(b.Returned.For, "somebody") + " is late, and still tried."
	case b.Machine != "":
		return "Nobody wrote it: " + b.Machine + "."
	}
	return ""
}

func fromSaid(b desk.MailBody) string {
	if b.Name != "" {
		return b.Name + ", " + b.From
	}
	return or(b.From, "no address given")
}

type mailView struct {
	Path, From, Subject, Text, Quoted, Why string
	Forwarded                              string
	Came                                   time.Time
	Files                                  []desk.MailFile
	Links, Odd                             []string
	Wishes                                 []desk.Suggestion
	Waits                                  bool
	May                                    bool   // something may still be made of it, though it does not wait
	Became                                 string // what became of it, when it waits no more
	Request                                string // path of the request it belongs to
	Code                                   Field
	Branch, Name, Email                    Field
	Models                                 bool // it brings one
	Answers                                bool // its address takes answers
	AnswerSubject, AnswerText              Field
	Note                                   Field
	Errors                                 []Missed
}

var letterPage = newPage[mailView](forStaff, "letter.html")

// letterSheet gathers the page of one letter.
func (s *Site) letterSheet(r *http.Request, who desk.Actor) (mailView, error) {
	m, err := s.desk.LookMail(r.Context(), who, desk.ID(r.PathValue("id")))
	if err != nil {
		return mailView{}, err
	}
	b := m.Mail.Body
	v := mailView{Path: "/desk/letters/" + string(m.Mail.ID), From: fromSaid(b), Subject: b.Subject, Text: b.Text, Quoted: b.Quoted, Why: whySaid(m.Mail), Forwarded: b.Forwarded,
		Came: local(m.Mail.Came, m.Settings.Library.TimeZone), Files: b.Files, Links: b.Links, Wishes: b.Suggest, Waits: m.Mail.State == desk.MailWaits, Answers: m.Answers}
	for _, o := range b.Odd {
		v.Odd = append(v.Odd, o.String())
	}
	v.May = !v.Waits && m.Mail.MayBePlaced()
	v.Code = Field{Name: "code", Label: "Code of the request", Width: "short", Auto: "off"}
	if m.Guess != nil {
		v.Code.Value, v.Request = string(m.Guess.Code), "/desk/r/"+string(m.Guess.Code)
	}
	switch {
	case m.Mail.Empty:
		v.Became = "What this letter said is forgotten."
	case m.Mail.State == desk.MailPlaced:
		v.Became = "This letter is with a request"
		if m.Mail.By != "" {
			v.Became += ", where " + m.Mail.By + " put it"
		}
		v.Became += "."
	}
	for _, f := range b.Files {
		v.Models = v.Models || m.Settings.Rules.Takes(f.Name)
	}
	v.Branch = Field{Name: "branch", Label: "Branch that looks after it", Type: "select", Choices: branchChoices(m.Branches), Value: string(m.Settings.Mail.Branch)}
	v.Name = Field{Name: "name", Label: "Patron’s name", Width: "mid", Auto: "off", Optional: true, Value: m.Name}
	v.Email = Field{Name: "email", Label: "Patron’s mail address", Type: "email", Width: "mid", Auto: "off", Value: m.Email, Hint: "As the letter seems to say. What is sent about the request goes there."}
	v.AnswerSubject = Field{Name: "subject", Label: "Subject", Value: m.Subject}
	v.AnswerText = Field{Name: "text", Label: "Answer", Value: m.Answer, Rows: 9}
	v.Note = Field{Name: "why", Label: "Why it needs nothing", Optional: true}
	return v, nil
}

func (s *Site) letter(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.letterSheet(r, who)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, letterPage, v)
}

// letterDo places a letter, makes a request of it, answers it or puts it aside.
func (s *Site) letterDo(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	id := desk.ID(r.PathValue("id"))
	said, to := "", "/desk/letters"
	var err error
	var q desk.Request
	switch r.PathValue("what") {
	case "place":
		if q, err = s.desk.PlaceMail(r.Context(), who, id, r.PostFormValue("code")); err == nil {
			said, to = "The letter is with "+string(q.Code)+" now.", "/desk/r/"+string(q.Code)
		}
	case "new":
		if q, err = s.desk.NewFromMail(r.Context(), who, id, desk.ID(r.PostFormValue("branch")), desk.Contact{Name: r.PostFormValue("name"), Email: r.PostFormValue("email")}); err == nil {
			said, to = "The letter became the request "+string(q.Code)+".", "/desk/r/"+string(q.Code)
		}
	case "answer":
		err = s.desk.AnswerMail(r.Context(), who, id, r.PostFormValue("subject"), r.PostFormValue("text"))
		said = "The answer is on its way."
	case "aside":
		err = s.desk.AsideMail(r.Context(), who, id, r.PostFormValue("why"))
		said = "The letter was put aside."
	default:
		return notFound()
	}
	if err == nil {
		s.say(r, said)
		return s.goTo(w, r, to)
	}
	kind := desk.KindOf(err)
	if kind != desk.Wrong && kind != desk.NotFound && kind != desk.NotNow {
		return err
	}
	v, look := s.letterSheet(r, who)
	if look != nil {
		return look
	}
	v.keep(r, err)
	return show(s, w, r, statusOf(kind), letterPage, v)
}

// keep puts back what was typed, and what is wrong with it.
func (v *mailView) keep(r *http.Request, err error) {
	for _, f := range []*Field{&v.Code, &v.Branch, &v.Name, &v.Email, &v.AnswerSubject, &v.AnswerText, &v.Note} {
		if r.PostForm.Has(f.Name) {
			f.Value = r.PostFormValue(f.Name)
		}
	}
	f := faultOf(err)
	mark(f.Fields, &v.Code, &v.Branch, &v.Name, &v.Email, &v.AnswerSubject, &v.AnswerText, &v.Note)
	if v.Errors = missed(v.Code, v.Branch, v.Name, v.Email, v.AnswerSubject, v.AnswerText, v.Note); len(v.Errors) == 0 {
		v.Errors = []Missed{{Target: "main", Say: f.Say}}
	}
}

func (s *Site) letterAgain(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	if err := s.desk.PostAgain(r.Context(), who, desk.ID(r.PathValue("id"))); err != nil {
		return err
	}
	s.say(r, "The letter is tried again.")
	return s.goTo(w, r, "/desk/letters")
}

func (s *Site) letterSettle(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	if err := s.desk.PostSettle(r.Context(), who, desk.ID(r.PathValue("id"))); err != nil {
		return err
	}
	s.say(r, "The letter is off the list.")
	return s.goTo(w, r, "/desk/letters")
}

// letterRequest leads to the request a letter of ours is about.
func (s *Site) letterRequest(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	code, err := s.desk.PostedAbout(r.Context(), who, desk.ID(r.PathValue("id")))
	if err != nil {
		return err
	}
	return s.goTo(w, r, requestPath(code))
}
