package web

import (
	"fmt"
	"net/http"
	"strconv"

	"platebook/desk"
)

// meView is one's own account.
type meView struct {
	Version      int64
	MustRenew    bool // came with a one-time word
	LogIn        string
	Roles        []string
	Called, Home Field
	Old, New     Field
	Again        Field
	Errors       []Missed
}

var mePage = newPage[meView](forStaff, "me.html")

func (s *Site) aMe(r *http.Request, who desk.Actor) (meView, error) {
	me, err := s.desk.Me(r.Context(), who)
	if err != nil {
		return meView{}, err
	}
	branches, err := s.desk.Branches(r.Context())
	if err != nil {
		return meView{}, err
	}
	v := meView{
		Version: me.Version, MustRenew: who.MustRenew, LogIn: me.Name, Roles: sayGrants(me.Grants, branches),
		Called: Field{Name: "called", Label: "Your name, as patrons and colleagues see it", Value: me.Called, Auto: "nickname", Width: "mid"},
		Home:   Field{Name: "home", Label: "Branch you begin at", Value: string(me.Home), Type: "select", Choices: branchChoices(branches)},
		Old:    Field{Name: "old", Label: "Present password", Type: "password", Auto: "current-password", Width: "mid"},
		New:    newPassword("password", "New password"),
		Again:  Field{Name: "again", Label: "The new password again", Type: "password", Auto: "new-password", Width: "mid"},
	}
	if who.MustRenew {
		v.Old.Label = "The one-time word you were given"
	}
	return v, nil
}

func (s *Site) me(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.aMe(r, who)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, mePage, v)
}

func (s *Site) saveMe(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	if who.MustRenew {
		return s.goTo(w, r, "/desk/me")
	}
	_, err := s.desk.SaveMe(r.Context(), who, number64(r, "version"), r.PostFormValue("called"), desk.ID(r.PostFormValue("home")))
	if k := desk.KindOf(err); k == desk.Wrong || k == desk.Stale {
		v, other := s.aMe(r, who)
		if other != nil {
			return other
		}
		v.Called.Value, v.Home.Value = r.PostFormValue("called"), r.PostFormValue("home")
		f := faultOf(err)
		mark(f.Fields, &v.Called, &v.Home)
		v.Errors = missed(v.Called, v.Home)
		if len(v.Errors) == 0 {
			v.Errors = []Missed{{Target: v.Called.Target(), Say: f.Say}}
		}
		return show(s, w, r, statusOf(k), mePage, v)
	}
	if err != nil {
		return err
	}
	s.say(r, "Saved.")
	return s.goTo(w, r, "/desk/me")
}

func (s *Site) savePassword(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	var err error
	if r.PostFormValue("password") != r.PostFormValue("again") {
		err = &desk.Fault{Kind: desk.Wrong, Fields: map[string]string{"again": "This is not the same as the new password above."}}
	} else {
		var staff desk.Staff
		if staff, err = s.desk.SetPassword(r.Context(), who, r.PostFormValue("old"), r.PostFormValue("password")); err == nil {
			// Every session ended with the old password; this one begins anew.
			if err := s.begin(r, staff); err != nil {
				return err
			}
			s.say(r, "Your new password holds from now on. Wherever else you were logged in, you are not any more.")
			if who.MustRenew {
				return s.goTo(w, r, "/desk")
			}
			return s.goTo(w, r, "/desk/me")
		}
	}
	k := desk.KindOf(err)
	if k != desk.Wrong && k != desk.TooMany {
		return err
	}
	v, other := s.aMe(r, who)
	if other != nil {
		return other
	}
	f := faultOf(err)
	mark(f.Fields, &v.Old, &v.New, &v.Again)
	if len(f.Fields) == 0 {
		v.Old.Error = f.Say
	}
	v.Errors = missed(v.Old, v.New, v.Again)
	return show(s, w, r, statusOf(k), mePage, v)
}

// number64 reads a whole number a form carries for us, 0 if there is none.
func number64(r *http.Request, name string) int64 {
	n, err := strconv.ParseInt(r.PostFormValue(name), 10, 64)
	if err != nil {
		return 0
	}
	return n
}

func branchChoices(of []desk.Branch) []Choice {
	var all []Choice
	for _, b := range of {
		label := b.Name
		if b.Shut {
			label += " (shut)"
		}
		all = append(all, Choice{Value: string(b.ID), Label: label})
	}
	return all
}

func branchName(id desk.ID, of []desk.Branch) string {
	for _, b := range of {
		if b.ID == id {
			return b.Name
		}
	}
	return "a branch that is gone"
}

// sayGrants says roles as people do: "manager of all branches".
func sayGrants(grants []desk.Grant, branches []desk.Branch) []string {
	var all []string
	for _, g := range grants {
		where := "all branches"
		if g.Branch != "" {
			where = branchName(g.Branch, branches)
		}
		all = append(all, fmt.Sprintf("%s at %s", g.Role, where))
	}
	return all
}
