package web

import (
	"errors"
	"net/http"
	"net/url"
	"path"
	"strings"

	"platebook/desk"
)

// loginRoutes are those of logging in and out, one's own account, and the
// first run.
func (s *Site) loginRoutes() {
	s.open("GET /log-in", s.logInForm)
	s.open("POST /log-in", s.logIn)
	s.open("POST /log-out", s.logOut)
	s.open("GET /first", s.firstForm)
	s.open("POST /first", s.first)
	s.staff("GET /desk/me", s.me)
	s.staff("POST /desk/me", s.saveMe)
	s.staff("POST /desk/me/password", s.savePassword)
}

// logInView is the page to log in.
type logInView struct {
	Say            string // why it is asked, or what did not work
	Back           string // where to go on
	Name, Password Field
	Errors         []Missed
}

var logInPage = newPage[logInView](forPatron, "login.html")

func aLogIn(back string) logInView {
	return logInView{
		Back:     ours(back),
		Name:     Field{Name: "name", Label: "Name", Auto: "username"},
		Password: Field{Name: "password", Label: "Password", Type: "password", Auto: "current-password"},
	}
}

func (s *Site) logInForm(w http.ResponseWriter, r *http.Request) error {
	need, err := s.desk.NeedsManager(r.Context())
	if err != nil {
		return err
	}
	if need {
		return s.goTo(w, r, "/first")
	}
	who, err := s.actor(r)
	if err != nil {
		return err
	}
	back := r.URL.Query().Get("back")
	if who.Kind == desk.ByStaff {
		return s.goTo(w, r, afterLogIn(back))
	}
	v := aLogIn(back)
	if s.sessions.GetString(r.Context(), sessionStaff) != "" {
		v.Say = "Your log-in is over, because time ran out or your account was changed. Log in again to go on."
	}
	return show(s, w, r, http.StatusOK, logInPage, v)
}

// afterLogIn is where staff go on: pages of the desk only.
func afterLogIn(back string) string {
	u, err := url.Parse(ours(back))
	if err != nil || u.Path != path.Clean(u.Path) || u.Path != "/desk" && !strings.HasPrefix(u.Path, "/desk/") {
		return "/desk"
	}
	return u.RequestURI()
}

func (s *Site) logIn(w http.ResponseWriter, r *http.Request) error {
	from := visitOf(r.Context()).from
	if !s.logIns.allow(from) {
		return desk.Faultf(desk.TooMany, "Too many people are logging in from your network at once. Wait a minute, then try again.")
	}
	name := r.PostFormValue("name")
	staff, err := s.desk.LogIn(r.Context(), name, r.PostFormValue("password"), from)
	if k := desk.KindOf(err); k == desk.Wrong || k == desk.TooMany {
		f := faultOf(err)
		v := aLogIn(r.PostFormValue("back"))
		v.Name.Value = name
		// It is not said which of the two is wrong, so both are looked at again.
		v.Name.Error = f.Say
		v.Errors = missed(v.Name)
		return show(s, w, r, statusOf(k), logInPage, v)
	}
	if err != nil {
		return err
	}
	if err := s.begin(r, staff); err != nil {
		return err
	}
	return s.goTo(w, r, afterLogIn(r.PostFormValue("back")))
}

func (s *Site) logOut(w http.ResponseWriter, r *http.Request) error {
	if err := s.end(r); err != nil {
		return err
	}
	return s.goTo(w, r, "/log-in")
}

// firstView is the page that makes the first account.
type firstView struct {
	Word                                                    Field
	Library, Address, TimeZone, Locale, Languages, Currency Field
	Branch                                                  Field
	Name, Called, Password, Again                           Field
	Errors                                                  []Missed
}

var firstPage = newPage[firstView](forPatron, "firstrun.html")

func aFirst(r *http.Request) firstView {
	typed := func(name, usual string) string {
		if v := r.PostFormValue(name); v != "" || r.Method == http.MethodPost {
			return v
		}
		return usual
	}
	scheme := "http://"
	if r.TLS != nil || r.Header.Get("X-Forwarded-Proto") == "https" {
		scheme = "https://"
	}
	return firstView{
		Word: Field{Name: "word", Label: "Set-up word", Value: typed("word", ""), Width: "mid",
			Hint: "Printed where the desk was started. It keeps strangers on the network from taking a new desk."},
		Library: Field{Name: "library", Label: "Name of the library", Value: typed("library", ""), Auto: "organization"},
		Address: Field{Name: "address", Label: "Address of this desk on the web", Value: typed("address", scheme+r.Host), Type: "url",
			Hint: "As patrons reach it. Links in messages begin with it."},
		TimeZone: Field{Name: "time_zone", Label: "Time zone", Value: typed("time_zone", ""), Width: "mid",
			Hint: "Continent and city of the IANA list, like Europe/Dublin or America/Toronto."},
		Locale: Field{Name: "locale", Label: "How numbers and money are written", Value: typed("locale", "en"), Width: "short",
			Hint: "Language and country, like en-GB or fr-CA."},
		Languages: Field{Name: "languages", Label: "Languages patrons can choose", Value: typed("languages", "en"), Width: "mid",
			Hint: "The usual one first, like: en, fr. Messages come in English and French; you can write others."},
		Currency: Field{Name: "currency", Label: "Currency", Value: typed("currency", ""), Width: "short",
			Hint: "Its three letters, like EUR. The tariff begins with example rates: put your own in before you quote."},
		Branch:   Field{Name: "branch", Label: "Name of the first branch", Value: typed("branch", "")},
		Name:     Field{Name: "name", Label: "Name to log in with", Value: typed("name", ""), Auto: "username", Width: "mid"},
		Called:   Field{Name: "called", Label: "Your name, as patrons and colleagues see it", Value: typed("called", ""), Auto: "nickname", Width: "mid"},
		Password: newPassword("password", "Password"),
		Again:    Field{Name: "again", Label: "The same password again", Type: "password", Auto: "new-password", Width: "mid"},
	}
}

func newPassword(name, label string) Field {
	return Field{Name: name, Label: label, Type: "password", Auto: "new-password", Width: "mid",
		Hint: "At least 12 characters; several words that do not belong together are best. Anything can stand in it, spaces too."}
}

func (s *Site) firstForm(w http.ResponseWriter, r *http.Request) error {
	need, err := s.desk.NeedsManager(r.Context())
	if err != nil {
		return err
	}
	if !need {
		return s.goTo(w, r, "/log-in")
	}
	return show(s, w, r, http.StatusOK, firstPage, aFirst(r))
}

func (s *Site) first(w http.ResponseWriter, r *http.Request) error {
	if !s.logIns.allow(visitOf(r.Context()).from) { // the set-up word can be guessed at too
		return desk.Faultf(desk.TooMany, "Too many tries from your network at once. Wait a minute, then try again.")
	}
	v := aFirst(r)
	var err error
	if r.PostFormValue("password") != r.PostFormValue("again") {
		err = &desk.Fault{Kind: desk.Wrong, Fields: map[string]string{"again": "This is not the same as the password above."}}
	} else {
		var staff desk.Staff
		staff, err = s.desk.FirstManager(r.Context(), desk.FirstForm{
			Word: v.Word.Value, Library: v.Library.Value, Address: v.Address.Value, TimeZone: v.TimeZone.Value, Locale: v.Locale.Value,
			Languages: listed(v.Languages.Value), Currency: v.Currency.Value, Branch: v.Branch.Value,
			Name: v.Name.Value, Called: v.Called.Value, Password: r.PostFormValue("password")})
		if err == nil {
			if err := s.begin(r, staff); err != nil {
				return err
			}
			s.say(r, "The desk is set up, and you are its manager. What is left to settle is listed here.")
			return s.goTo(w, r, "/desk/settings")
		}
	}
	var f *desk.Fault
	if !errors.As(err, &f) || f.Kind != desk.Wrong {
		return err
	}
	all := []*Field{&v.Word, &v.Library, &v.Address, &v.TimeZone, &v.Locale, &v.Languages, &v.Currency, &v.Branch, &v.Name, &v.Called, &v.Password, &v.Again}
	mark(f.Fields, all...)
	for _, x := range all {
		if x.Error != "" {
			v.Errors = append(v.Errors, missed(*x)...)
		}
	}
	return show(s, w, r, http.StatusUnprocessableEntity, firstPage, v)
}

// listed are the words between commas and spaces.
func listed(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\n' || r == '\r' || r == '\t' })
}
