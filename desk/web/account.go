package web

import (
	"net/http"
	"strings"
	"time"

	"platebook/desk"
	"platebook/engine/tariff"
)

func (s *Site) accountRoutes() {
	s.staff("GET /desk/shelf/{request}/account", s.account)
	s.staff("POST /desk/shelf/{request}/account/{what}", s.accountDo)
	s.staff("GET /desk/shelf/{request}/receipt", s.receipt)
}

type accountView struct {
	Errors  []Missed
	Path    string
	Code    desk.Code
	Held    string
	Lines   []chargeLine
	Balance string
	Said    []string
	Owes    bool
	Back    bool // the library owes the patron
	Acts    bool
	Waives  bool
	Open    string
	Pay     Field
	How     Field
	PayBack Field
	HowBack Field
	Correct Field
	Why     Field
	Waive   Field
	WhyNot  Field
}

// chargeLine is one line of an account, and the lines of a price within it.
type chargeLine struct {
	At     time.Time
	What   string
	Reason string
	Who    string
	Amount string
	Parts  []priceLine
}

type priceLine struct{ Label, Amount string }

var accountPage = newPage[accountView](forStaff, "account.html")

var chargeWords = map[desk.ChargeKind]string{
	desk.PriceCharge: "Charged", desk.Correction: "Corrected", desk.Waiver: "Waived", desk.Payment: "Paid", desk.Repayment: "Paid back",
}

func chargeLines(a desk.Account) (lines []chargeLine) {
	for _, c := range a.Lines {
		l := chargeLine{At: local(c.At, a.Zone), What: chargeWords[c.Kind], Reason: c.Reason, Who: c.Who, Amount: a.Write(c.Amount)}
		// A correction carries the price it comes from; its lines do not add up to it.
		if c.Price != nil && c.Kind == desk.PriceCharge {
			for _, p := range c.Price.Lines {
				l.Parts = append(l.Parts, priceLine{p.Label, a.Write(p.Amount)})
			}
			for _, p := range c.Price.Included {
				l.Parts = append(l.Parts, priceLine{p.Label, "(" + a.Write(p.Amount) + ")"})
			}
		}
		lines = append(lines, l)
	}
	return lines
}

func accountOf(a desk.Account) accountView {
	v := accountView{Path: heldPath(a.Request.ID), Code: a.Request.Code, Held: heldPath(a.Request.ID), Lines: chargeLines(a), Balance: a.Write(a.Balance),
		Said: a.Said, Owes: a.Balance.Cmp("0") > 0, Back: a.Balance.Cmp("0") < 0, Acts: a.Acts, Waives: a.Waives}
	amount := func(name, label, hint string, value tariff.Decimal) Field {
		return Field{Name: name, Label: label, Hint: hint, Mode: "decimal", Width: "short", Unit: a.Currency, Value: string(value)}
	}
	owed, over := tariff.Decimal(""), tariff.Decimal("")
	if v.Owes {
		owed = a.Balance
	}
	if v.Back {
		over = a.Balance.Neg()
	}
	v.Pay = amount("pay", "Paid", "", owed)
	v.How = Field{Name: "how", Label: "How", Choices: waysToPay, Value: "cash"}
	v.PayBack = amount("back", "Given back", "", over)
	v.HowBack = Field{Name: "how-back", Label: "How", Choices: waysToPay, Value: "cash"}
	v.Correct = amount("correction", "By how much", "More is owed above 0, less with a minus.", "")
	if !a.Waives {
		v.Correct = amount("correction", "By how much more", "What lowers what is owed is a manager's to do.", "")
	}
	v.Correct.Hint += " A wrong weight is put right where it was weighed: the spool follows too."
	v.Why = Field{Name: "correction-why", Label: "Why it is corrected", Rows: 2, Hint: "Stands on the receipt."}
	v.Waive = amount("waiver", "How much", "", owed)
	v.WhyNot = Field{Name: "waiver-why", Label: "Why it is waived", Rows: 2, Hint: "Stands on the receipt."}
	return v
}

func (v *accountView) fields() []*Field {
	return []*Field{&v.Pay, &v.How, &v.PayBack, &v.HowBack, &v.Correct, &v.Why, &v.Waive, &v.WhyNot}
}

func (s *Site) account(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	a, err := s.desk.Account(r.Context(), who, desk.ID(r.PathValue("request")))
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, accountPage, accountOf(a))
}

func (s *Site) accountDo(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	form, err := formOf(r)
	if err != nil {
		return err
	}
	ctx, id := r.Context(), desk.ID(r.PathValue("request"))
	amount := func(name string) tariff.Decimal { return tariff.Decimal(r.PostFormValue(name)) }
	done, what := "", r.PathValue("what")
	switch what {
	case "pay":
		done = "The payment is noted."
		_, err = s.desk.Pay(ctx, who, id, form, amount("pay"), r.PostFormValue("how"))
	case "back":
		done = "What was given back is noted."
		_, err = s.desk.PayBack(ctx, who, id, form, amount("back"), r.PostFormValue("how-back"))
	case "correct":
		done = "Corrected."
		_, err = s.desk.Correct(ctx, who, id, form, amount("correction"), r.PostFormValue("correction-why"))
	case "waive":
		done = "Waived."
		_, err = s.desk.Waive(ctx, who, id, form, amount("waiver"), r.PostFormValue("waiver-why"))
	default:
		return notFound()
	}
	if err == nil {
		s.say(r, done)
		return s.goTo(w, r, heldPath(id)+"/account")
	}
	fields, _, rest := s.refused(r, err)
	if rest != nil {
		return rest
	}
	a, err := s.desk.Account(ctx, who, id)
	if err != nil {
		return err
	}
	v := accountOf(a)
	v.Open = what
	var all []Field
	for _, f := range v.fields() {
		if r.PostForm.Has(f.Name) {
			f.Value = r.PostForm.Get(f.Name)
		}
		mark(fields, f)
		all = append(all, *f)
	}
	v.Errors = missed(all...)
	return show(s, w, r, http.StatusUnprocessableEntity, accountPage, v)
}

// receiptView is a receipt: the lines, the taxes, how it was rounded and what
// was paid. It names no person.
type receiptView struct {
	Library string
	Branch  string
	Code    desk.Code
	Printed time.Time
	Lines   []chargeLine
	Balance string
	Word    string // what the balance is
	Said    []string
	Contact string
}

var receiptPage = newPage[receiptView](forPaper, "paper_receipt.html")

func receiptOf(a desk.Account) receiptView {
	v := receiptView{Library: a.Library, Branch: a.Branch.Name, Code: a.Request.Code, Printed: local(a.Now, a.Zone), Lines: chargeLines(a), Balance: a.Write(a.Balance), Said: a.Said}
	switch a.Balance.Cmp("0") {
	case 0:
		v.Word = "Settled"
	case 1:
		v.Word = "Still to pay"
	default:
		v.Word, v.Balance = "The library owes you", a.Write(a.Balance.Neg())
	}
	for i := range v.Lines {
		v.Lines[i].Who = "" // who stood at the desk is no matter of the receipt
		v.Lines[i].Reason = strings.TrimSpace(v.Lines[i].Reason)
	}
	return v
}

func (s *Site) receipt(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	a, err := s.desk.Account(r.Context(), who, desk.ID(r.PathValue("request")))
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, receiptPage, receiptOf(a))
}
