package web

import (
	"errors"
	"net/http"

	"platebook/desk"
)

// leaveView asks once more before a request is withdrawn or forgotten.
type leaveView struct {
	W       *words
	Path    string
	Code    desk.Code
	Token   string
	Version int64
	Title   string
	Says    []string
	Say     string // why it was not done
	Since   []Told
	Act     string // address the form goes to
	Button  string
	Copy    string // link to a copy, before forgetting
	Why     *Field
}

var leavePage = newPage[leaveView](forPatron, "patron_leave.html")

// goneView is shown where nothing is held.
type goneView struct {
	W *words
}

var gonePage = newPage[goneView](forPatron, "patron_gone.html")

func (s *Site) withdrawForm(w http.ResponseWriter, r *http.Request, t *words) error {
	m, r, t, err := s.mineOf(r, t)
	if err != nil {
		return err
	}
	if !m.Request.State.MayFollow(desk.Withdrawn) {
		return s.goTo(w, r, desk.PatronPath(r.PathValue("key")))
	}
	return show(s, w, r, http.StatusOK, leavePage, withdrawView(m, r.PathValue("key"), t))
}

func withdrawView(m desk.MyRequest, key string, t *words) leaveView {
	path := desk.PatronPath(key)
	return leaveView{W: t, Path: path, Code: m.Request.Code, Token: formToken(), Version: m.Request.Version,
		Title: t.WithdrawTitle, Says: []string{t.WithdrawSay}, Act: path + "/withdraw", Button: t.WithdrawButton,
		Why: &Field{Name: "why", Label: t.WithdrawWhy, Hint: t.WithdrawHint, Optional: true, Lang: t.Lang}}
}

func (s *Site) withdrawSend(w http.ResponseWriter, r *http.Request, t *words) error {
	key := r.PathValue("key")
	form, err := formOf(r)
	if err == nil {
		_, err = s.desk.Withdraw(r.Context(), key, form, int64(max(wholeNumber(r.PostFormValue("version")), 1)), r.PostFormValue("why"))
	}
	if err == nil {
		return s.goTo(w, r, desk.PatronPath(key))
	}
	if desk.KindOf(err) == desk.NotNow {
		return s.mineAgain(w, r, t, err, func(*mineView) {})
	}
	return s.leaveAgain(w, r, t, err, form, withdrawView)
}

// leaveAgain asks once more, with what changed meanwhile and what was typed.
func (s *Site) leaveAgain(w http.ResponseWriter, r *http.Request, t *words, err error, form string,
	view func(desk.MyRequest, string, *words) leaveView) error {
	var f *desk.Fault
	if !errors.As(err, &f) || f.Kind == desk.Broken || f.Kind == desk.NotFound {
		return err
	}
	m, r, t, again := s.mineOf(r, t)
	if again != nil {
		return again
	}
	v := view(m, r.PathValue("key"), t)
	v.Say, v.Token, v.Since = f.Say, or(form, v.Token), changes(f.Since, m.Settings.Library.TimeZone, t)
	if v.Why != nil {
		v.Why.Value = r.PostFormValue("why")
	}
	return show(s, w, r, statusOf(f.Kind), leavePage, v)
}

func (s *Site) forgetForm(w http.ResponseWriter, r *http.Request, t *words) error {
	m, r, t, err := s.mineOf(r, t)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, leavePage, forgetView(m, r.PathValue("key"), t))
}

func forgetView(m desk.MyRequest, key string, t *words) leaveView {
	path := desk.PatronPath(key)
	v := leaveView{W: t, Path: path, Code: m.Request.Code, Token: formToken(), Version: m.Request.Version,
		Title: t.ForgetTitle, Says: []string{t.ForgetSay, t.ForgetStays}, Act: path + "/forget", Button: t.ForgetButton, Copy: path + "/copy"}
	switch st := m.Request.State; {
	case st.Over():
	case st.MayFollow(desk.Withdrawn):
		v.Says = append(v.Says, t.ForgetOpen)
	default:
		v.Says, v.Button = []string{t.ForgetNotYet}, ""
	}
	return v
}

func (s *Site) forgetSend(w http.ResponseWriter, r *http.Request, t *words) error {
	form, err := formOf(r)
	if err == nil {
		err = s.desk.ForgetMe(r.Context(), r.PathValue("key"), form)
	}
	if err != nil {
		return s.leaveAgain(w, r, t, err, form, forgetView)
	}
	return s.goTo(w, r, "/forgotten?lang="+t.Lang)
}

func (s *Site) gone(w http.ResponseWriter, r *http.Request, t *words) error {
	return show(s, w, r, http.StatusOK, gonePage, goneView{t})
}

// takeOut gives a zip of all that is held.
func (s *Site) takeOut(w http.ResponseWriter, r *http.Request, t *words) error {
	m, err := s.desk.Mine(r.Context(), r.PathValue("key"))
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "application/zip")
	h.Set("Content-Disposition", `attachment; filename="request-`+string(m.Request.Code)+`.zip"`)
	rec, _ := w.(*recorder)
	err = s.desk.TakeOut(r.Context(), r.PathValue("key"), download(w))
	if err == nil {
		return nil
	}
	if rec == nil || rec.status == 0 {
		h.Del("Content-Disposition")
		return err
	}
	// Half of it is out: what is left is to break off visibly.
	s.log.Error("copy for a patron", "request", visitOf(r.Context()).id, "err", err)
	panic(http.ErrAbortHandler)
}
