package web

import (
	"strconv"
	"strings"

	"platebook/desk"
)

// id is the request's.
func (a *acting) id() desk.ID { return a.v.Request.ID }

// refill puts what was sent back into fields, and opens the form they are of.
func (a *acting) refill(open string, fields func(*requestView) []*Field) {
	a.keep = func(v *requestView) {
		v.Open = open
		for _, f := range fields(v) {
			f.Value = a.text(f.Name)
		}
	}
}

// formFields are the fields of a form of the page, in their order.
func (v *requestView) formFields(form string) []*Field {
	switch name, id, _ := strings.Cut(form, "/"); {
	case name == "plan" && v.Plan != nil:
		return v.Plan.fields()
	case name == "judge":
		for i := range v.Checks {
			if v.Checks[i].ID == id && v.Checks[i].Why != nil {
				return []*Field{v.Checks[i].Why}
			}
		}
	case name == "offer" && v.Ways != nil && v.Ways.Offer != nil:
		o := v.Ways.Offer
		return []*Field{&o.Ways, &o.Best, &o.Subject, &o.Text}
	case name == "take-back" && v.TakeBack != nil:
		return []*Field{v.TakeBack}
	case name == "decline" && v.Decline != nil:
		d := v.Decline
		return []*Field{&d.Reason, &d.Remember, &d.Subject, &d.Text}
	case name == "write" && v.Write != nil:
		return []*Field{&v.Write.Subject, &v.Write.Text}
	case name == "contact" && v.Contact != nil:
		return v.Contact.fields()
	case name == "move" && v.Move != nil:
		return []*Field{v.Move}
	case name == "agree" && v.Agree != nil:
		return v.Agree.fields()
	}
	return nil
}

// again has the form's fields filled as they were sent, should the page be
// shown again.
func (a *acting) again(form string) {
	a.refill(form, func(v *requestView) []*Field { return v.formFields(form) })
}

func actTake(a *acting) error {
	a.say = "It is in review, and yours."
	_, err := a.s.desk.Take(a.r.Context(), a.who, a.id(), a.seen)
	return err
}

func actPlan(a *acting) error {
	plan, place := readPlan(a.v, a.text)
	a.again("plan")
	keep := a.keep
	a.keep = func(v *requestView) {
		keep(v)
		v.place = place
	}
	a.say, a.at = "The plan is settled. Ways are being found.", "#ways"
	_, err := a.s.desk.SetPlan(a.r.Context(), a.who, a.id(), a.seen, plan)
	return err
}

func actJudge(a *acting) error {
	q := a.text("question")
	form := "judge/" + q
	a.again(form)
	keep := a.keep
	a.keep = func(v *requestView) {
		keep(v)
		v.place = func(string) string { return "judge-" + q + "-why" }
	}
	a.at = "#checklist"
	answer := a.text("answer")
	if answer != "fine" && answer != "not" {
		return desk.Faultf(desk.Wrong, "Say whether it is fine or not.")
	}
	_, err := a.s.desk.Judge(a.r.Context(), a.who, a.id(), a.seen, q, answer == "fine", a.text("judge-"+q+"-why"))
	return err
}

func actOffer(a *acting) error {
	ways, best := a.r.PostForm["way"], a.text("offer-best")
	a.again("offer")
	keep := a.keep
	drafting := a.text("act") == "draft"
	a.keep = func(v *requestView) {
		keep(v)
		if v.Ways == nil || v.Ways.Offer == nil {
			return
		}
		v.Ways.choose(ways, best)
		if drafting {
			v.Ways.Offer.draft(a.v, ways, best)
		}
	}
	if drafting {
		a.show = true
		return nil
	}
	f := desk.OfferForm{Form: a.form, Ways: ways, Best: best, Subject: a.text("offer-subject"), Text: a.text("offer-text")}
	// A letter left as it was drafted follows the ways that were ticked.
	if was := waysOf(a.v); was.Offer != nil && same(f.Text, was.Offer.Text.Value) {
		f.Text = ""
		if same(f.Subject, was.Offer.Subject.Value) {
			f.Subject = ""
		}
	}
	a.say = "The offer is with the patron."
	_, err := a.s.desk.SendOffer(a.r.Context(), a.who, a.id(), a.seen, f)
	return err
}

// same says whether two texts are the same but for how lines end, which
// browsers change.
func same(a, b string) bool {
	plain := func(s string) string { return strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n")) }
	return plain(a) == plain(b)
}

func actTakeBack(a *acting) error {
	a.again("take-back")
	a.say = "The offer is taken back, and the patron is told."
	_, err := a.s.desk.TakeBack(a.r.Context(), a.who, a.id(), a.seen, a.form, a.text("take-back-why"))
	return err
}

func actDecline(a *acting) error {
	a.again("decline")
	f := desk.DeclineForm{Form: a.form, Reason: a.text("decline-reason"), Remember: a.text("decline-remember") != "", Subject: a.text("decline-subject"), Text: a.text("decline-text")}
	if same(f.Text, declineOf(a.v).Text.Value) {
		f.Text = ""
	}
	a.say = "It is declined, and the patron is told why."
	_, err := a.s.desk.Decline(a.r.Context(), a.who, a.id(), a.seen, f)
	return err
}

func actWrite(a *acting) error {
	a.again("write")
	a.say, a.at = "The letter is on the patron’s page.", "#letters"
	text := a.text("write-text")
	// A question left as it was drafted asks nothing, where nothing was found to ask.
	if was := a.v.Draft(desk.TextQuestion, nil, "", ""); len(a.v.ToAsk("en")) == 0 && same(text, was.Body) {
		const say = "Write what is to be settled into the letter first."
		return &desk.Fault{Kind: desk.Wrong, Say: say, Fields: map[string]string{"text": say}}
	}
	_, err := a.s.desk.Reply(a.r.Context(), a.who, a.id(), a.form, a.text("write-subject"), text)
	return err
}

func actAside(a *acting) error {
	a.at = "#letters"
	return a.s.desk.SetAside(a.r.Context(), a.who, a.id())
}

func actContact(a *acting) error {
	a.again("contact")
	a.say = "How the patron is reached is changed."
	_, err := a.s.desk.EditContact(a.r.Context(), a.who, a.id(), a.seen, desk.Contact{Name: a.text("contact-name"), Surname: a.text("contact-surname"), Email: a.text("contact-email"),
		Phone: a.text("contact-phone"), Card: a.text("contact-card"), Language: a.text("contact-language"), UnderAge: a.text("contact-under-age") != "", Guardian: a.text("contact-guardian")})
	return err
}

func actMove(a *acting) error {
	a.again("move")
	a.say = "It is handed on to the other branch."
	_, err := a.s.desk.MoveBranch(a.r.Context(), a.who, a.id(), a.seen, desk.ID(a.text("move-branch")))
	return err
}

func actAgree(a *acting) error {
	a.again("agree")
	terms, err := strconv.Atoi(or(a.text("terms"), "0"))
	if err != nil {
		return desk.Faultf(desk.Wrong, "This form has come apart on its way. Open the page again and send it once more.")
	}
	a.say = "The agreement is noted."
	_, err = a.s.desk.AgreeAtDesk(a.r.Context(), a.who, a.id(), desk.AgreeForm{Form: a.form, Version: a.seen, Way: a.text("agree-way"), Terms: terms, Accept: a.text("agree-accept") != "",
		Cautions: a.text("agree-cautions") != "", Rights: a.text("agree-rights") != "", Age: a.text("agree-age"), Guardian: a.text("agree-guardian")})
	return err
}

// actCheck has a file checked again.
func actCheck(a *acting) error {
	for _, f := range a.v.Files {
		if string(f.ID) == a.text("file") {
			a.say, a.at = "It is checked again.", "#file-"+string(f.ID)
			return a.s.desk.CheckAgain(a.r.Context(), a.who, f.ID)
		}
	}
	return desk.Faultf(desk.NotFound, "There is no such file with this request.")
}

// actWriteAgain has letters go again to an address they came back from.
func actWriteAgain(a *acting) error {
	a.say = "Letters go to this address again."
	_, err := a.s.desk.WriteAgain(a.r.Context(), a.who, a.id(), a.seen)
	return err
}

// actPostAgain has a letter sent by mail once more.
func actPostAgain(a *acting) error {
	for _, p := range a.v.Posted {
		if string(p.ID) == a.text("letter") {
			a.say, a.at = "The letter is sent again.", "#letters"
			return a.s.desk.PostAgain(a.r.Context(), a.who, p.ID)
		}
	}
	return desk.Faultf(desk.NotFound, "There is no such letter with this request.")
}
