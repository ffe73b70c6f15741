package web

import (
	"net/http"
	"time"

	"platebook/desk"
)

// letterRoutes are the pages of letters that wait for a person, and of those
// that could not be sent.
func (s *Site) letterRoutes() {
	s.staff("GET /desk/letters", s.letters)
	s.staff("GET /desk/letters/{id}", s.letter)
	s.staff("POST /desk/letters/{id}/{what}", s.letterDo)
	s.staff("POST /desk/letters/out/{id}/again", s.letterAgain)
}

type lettersView struct {
	Troubles []string
	Waiting  []letterLine
	Failed   []letterOut
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
}

var lettersPage = newPage[lettersView](forStaff, "letters.html")

func (s *Site) letters(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	waiting, failed, err := s.desk.MailWaiting(r.Context(), who)
	if err != nil {
		return err
	}
	zone := s.zone(r)
	v := lettersView{Troubles: s.mailTroubles()}
	for _, l := range waiting {
		v.Waiting = append(v.Waiting, letterLine{Path: "/desk/letters/" + string(l.ID), From: fromSaid(l.Body), Subject: l.Body.Subject, Why: l.Body.Why,
			Files: len(l.Body.Files), Came: local(l.Came, zone)})
	}
	for _, p := range failed {
		v.Failed = append(v.Failed, letterOut{p.ID, p.Body.To, p.Body.Subject, p.Trouble, local(p.Made, zone)})
	}
	return show(s, w, r, http.StatusOK, lettersPage, v)
}

func fromSaid(b desk.MailBody) string {
	if b.Name != "" {
		return b.Name + ", " + b.From
	}
	return b.From
}

type mailView struct {
	Path, From, Subject, Text, Quoted, Why string
	Forwarded                              string
	Came                                   time.Time
	Files                                  []desk.MailFile
	Links, Odd                             []string
	Wishes                                 []desk.Suggestion
	Waits                                  bool
	Became                                 string // what became of it, when it waits no more
	Request                                string // path of the request it belongs to
	Code                                   Field
	Branch                                 Field
	Models                                 bool // it brings one
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
	v := mailView{Path: "/desk/letters/" + string(m.Mail.ID), From: fromSaid(b), Subject: b.Subject, Text: b.Text, Quoted: b.Quoted, Why: b.Why, Forwarded: b.Forwarded,
		Came: local(m.Mail.Came, m.Settings.Library.TimeZone), Files: b.Files, Links: b.Links, Odd: b.Odd, Wishes: b.Suggest, Waits: m.Mail.State == desk.MailWaits}
	v.Code = Field{Name: "code", Label: "Code of the request", Width: "short", Auto: "off"}
	if m.Guess != nil {
		v.Code.Value, v.Request = string(m.Guess.Code), "/desk/r/"+string(m.Guess.Code)
	}
	if !v.Waits {
		v.Became = "This letter was " + string(m.Mail.State)
		if m.Mail.By != "" {
			v.Became += " by " + m.Mail.By
		}
		v.Became += "."
	}
	for _, f := range b.Files {
		v.Models = v.Models || m.Settings.Rules.Takes(f.Name)
	}
	v.Branch = Field{Name: "branch", Label: "Branch that looks after it", Type: "select", Choices: branchChoices(m.Branches), Value: string(m.Settings.Mail.Branch)}
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
		if q, err = s.desk.NewFromMail(r.Context(), who, id, desk.ID(r.PostFormValue("branch"))); err == nil {
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
	for _, f := range []*Field{&v.Code, &v.Branch, &v.AnswerSubject, &v.AnswerText, &v.Note} {
		if r.PostForm.Has(f.Name) {
			f.Value = r.PostFormValue(f.Name)
		}
	}
	f := faultOf(err)
	mark(f.Fields, &v.Code, &v.Branch, &v.AnswerSubject, &v.AnswerText, &v.Note)
	if v.Errors = missed(v.Code, v.Branch, v.AnswerSubject, v.AnswerText, v.Note); len(v.Errors) == 0 {
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
