package desk

import (
	"context"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"
)

// MailPlace is where a letter lies in a mailbox: what IMAP knows it by.
type MailPlace struct {
	Mailbox       string
	Validity, UID uint32
}

// FreshMail returns those of the UIDs whose letter was not taken yet.
func (d *Desk) FreshMail(ctx context.Context, mailbox string, validity uint32, uids []uint32) ([]uint32, error) {
	var fresh []uint32
	err := d.Store.Read(ctx, func(tx Tx) (err error) {
		fresh, err = tx.FreshMail(mailbox, validity, uids)
		return err
	})
	return fresh, err
}

// Arrive takes a letter in, with all it causes, in one transaction. A letter
// whose place or bytes are known causes nothing a second time.
//
// A report on a letter of ours flags the address. What a machine wrote is kept
// and never answered; with a model in it, it waits for a person. An answer joins
// its request's conversation. A letter with a model becomes a request. Anything
// else waits for a person.
func (d *Desk) Arrive(ctx context.Context, at MailPlace, l Mail) (Mail, error) {
	l.Body = l.Body.cleaned()
	uploads := l.Body.uploads()
	lost, err := d.missing(ctx, uploads)
	if err != nil {
		return Mail{}, err
	}
	if len(lost) > 0 {
		return Mail{}, Faultf(NoRoom, "A file of the letter is gone from the disk before it was kept. The letter will be read again.")
	}
	var kept Mail
	err = d.Store.Write(ctx, func(tx Tx) error {
		kept = l
		if err := tx.PlaceMail(at, l.Hash); err != nil {
			return err
		}
		was, err := tx.MailByHash(l.Hash)
		if err == nil {
			kept = was
			return nil
		} else if KindOf(err) != NotFound {
			return err
		}
		kept.ID, kept.Came = NewID(), d.now()
		if err := d.sort(tx, &kept, uploads); err != nil {
			return err
		}
		return d.keepMail(tx, &kept)
	})
	return kept, err
}

// keepMail saves a letter. What waits for a person, or a person put aside,
// holds on to its files until it is placed or forgotten.
func (d *Desk) keepMail(tx Tx, l *Mail) error {
	if err := tx.SaveMail(l); err != nil {
		return err
	}
	var hold []Hash
	if l.State == MailWaits || l.State == MailAside {
		for _, f := range l.Body.Files {
			hold = append(hold, f.Hash)
		}
	}
	return tx.HoldMail(l.ID, hold...)
}

// sort decides what a letter is and does what it causes.
func (d *Desk) sort(tx Tx, l *Mail, files []Upload) error {
	set, err := settings(tx)
	if err != nil {
		return err
	}
	if l.Body.Machine == "" && strings.EqualFold(l.Body.From, set.Mail.From) && set.Mail.From != "" {
		l.Body.Machine = "it is from our own address"
	}
	if l.Body.Returned != nil || l.Body.Machine != "" {
		return d.fromMachine(tx, set, l, files)
	}
	l.State = MailWaits
	if l.Body.Why != "" {
		return nil // it could not be read: what it brings is not known
	}
	if l.Body.From == "" {
		l.Body.Why = "It does not say who wrote it."
		return nil
	}
	if !takesAnswers(set, l.Body.Answer) {
		l.Body.Answer = l.Body.From // else what we answer reaches nobody
	}
	if of, err := d.twin(tx, l); err != nil || of != "" {
		l.State, l.Request = MailPlaced, of
		return err
	}
	if same, err := waitingTwin(tx, l); err != nil || same {
		l.State, l.Body.Why = MailAside, "It is the same letter as another one from this address, which came by another way."
		return err
	}
	r, sure, err := d.belongs(tx, l)
	if err != nil {
		return err
	}
	if r != nil && !sure {
		l.Body.Guess = r.ID
		l.Body.Why = fmt.Sprintf("Its subject names %s, but it is from another address than that request's.", r.Code)
		return nil
	}
	if r != nil && !(r.State.Over() && d.models(set, files) > 0) {
		return d.join(tx, set, *r, l, files, l.fromPatron(*r))
	}
	if d.models(set, files) == 0 {
		l.Body.Why = "It brings no model that could be printed."
		if len(l.Body.Links) > 0 {
			l.Body.Why = "It brings no model, but a link. Ask for the file itself: links are not opened from here."
		}
		about, why, err := d.hint(tx, l)
		if about != nil {
			l.Body.Guess = about.ID
			if len(l.Body.Links) == 0 {
				l.Body.Why = why
			}
		}
		return err
	}
	if l.Body.Forwarded != "" && !strings.EqualFold(l.Body.Forwarded, l.Body.From) && ourDomain(set, l.Body.From) {
		l.Body.Why = "A colleague sent on a letter of " + l.Body.Forwarded + ". Whose request is it? Make it one, and give the patron's address."
		return nil
	}
	return d.fromMail(tx, set, l, files)
}

// ourDomain says whether an address is of the library's own mail domain.
func ourDomain(set Settings, address string) bool {
	_, ours, _ := strings.Cut(set.Mail.From, "@")
	_, theirs, _ := strings.Cut(address, "@")
	return ours != "" && strings.EqualFold(ours, theirs)
}

// fromMachine keeps what nobody wrote: a report, an automatic answer, a letter
// of a list. Nothing is made of it and no answer goes out, so that two machines
// never write to each other without end. But a page where patrons send their
// wishes writes by machine too: what brings a model waits for a person.
func (d *Desk) fromMachine(tx Tx, set Settings, l *Mail, files []Upload) error {
	l.State = MailAuto
	if l.Body.Returned != nil {
		l.State = MailReport
		if err := d.returned(tx, l); err != nil {
			return err
		}
	}
	l.Body.Guess = l.Request
	if l.Request == "" {
		r, _, err := d.belongs(tx, l)
		if err != nil {
			return err
		}
		if r != nil {
			l.Body.Guess = r.ID
		}
	}
	if d.models(set, files) > 0 || slices.ContainsFunc(files, isArchive) {
		l.State, l.Request = MailWaits, ""
		l.Body.Why = "Nobody wrote it (" + l.Body.Machine + "), but it brings a model or an archive. See whether a patron is behind it: nothing was made of it, and no answer went out."
	}
	return nil
}

// isArchive says whether a file may hold a model nobody could look at: archives
// that could be opened are not among a letter's files, what was in them is.
func isArchive(f Upload) bool {
	switch strings.ToLower(path.Ext(f.Name)) {
	case ".zip", ".7z", ".rar", ".tar", ".tgz", ".gz", ".xz":
		return true
	}
	return false
}

func (d *Desk) models(set Settings, files []Upload) int {
	n := 0
	for _, f := range files {
		if set.Rules.Takes(f.Name) {
			n++
		}
	}
	return n
}

var codeWithin = regexp.MustCompile(`(?i)\b([A-Z][2-9]-[0-9]{3})\b`)

// belongs finds the request a letter answers to: by the letters it says it
// answers, whose names nobody can guess, or by a code in its subject. A code is
// easily guessed, so there the address must be the request's: sure says that
// it is.
func (d *Desk) belongs(tx Tx, l *Mail) (found *Request, sure bool, err error) {
	named := slices.Concat(l.Body.InReplyTo, l.Body.References)
	slices.Reverse(named) // the last is the nearest
	for _, id := range named {
		request, err := tx.RequestOfLetter(id)
		if KindOf(err) == NotFound {
			continue
		} else if err != nil {
			return nil, false, err
		}
		r, err := tx.Request(request)
		if err != nil && KindOf(err) != NotFound {
			return nil, false, err
		}
		if err != nil || !r.Forgotten.IsZero() {
			continue
		}
		// Only the names of our letters cannot be guessed.
		_, err = tx.PostedByMailID(id)
		if err != nil && KindOf(err) != NotFound {
			return nil, false, err
		}
		return &r, err == nil || l.by(r), nil
	}
	exact := codeWithin.FindString(l.Body.Subject)
	if found, err := d.named(tx, exact, 1); err != nil || len(found) > 0 {
		return first(found), len(found) > 0 && l.by(found[0]), err
	}
	// A code as people write it counts where it is the writer's own: "A4 210" may
	// be a sheet of paper.
	loose, err := d.named(tx, l.Body.Subject, 5)
	for _, r := range loose {
		if l.by(r) {
			return &r, true, nil
		}
	}
	return nil, false, err
}

func first(all []Request) *Request {
	if len(all) == 0 {
		return nil
	}
	return &all[0]
}

var codeLoosely = regexp.MustCompile(`(?i)\b[A-Z][ -]?[2-9][ -]?[0-9]{3}\b`)

// named finds the requests whose codes stand in a text, of the first few that do.
func (d *Desk) named(tx Tx, text string, most int) ([]Request, error) {
	var found []Request
	for _, m := range codeLoosely.FindAllString(text, most) {
		code, ok := ParseCode(m)
		if !ok {
			continue
		}
		r, err := tx.RequestByCode(code)
		if err == nil {
			found = append(found, r)
		} else if KindOf(err) != NotFound {
			return nil, err
		}
	}
	return found, nil
}

// hint finds a request that a letter without a model may be about, for whoever
// places it, and says why: one of its writer's that its text names, or the only
// one they have open.
func (d *Desk) hint(tx Tx, l *Mail) (*Request, string, error) {
	all, err := d.named(tx, l.Body.Text, 5)
	for _, r := range all {
		if l.by(r) && r.Forgotten.IsZero() {
			return &r, "It brings no model, and names " + string(r.Code) + ".", nil
		}
	}
	if err != nil || l.Body.From == "" {
		return nil, "", err
	}
	all, err = tx.ListRequests(RequestFilter{Patron: d.patron(l.Body.From), Unforgotten: true, Newest: true, Brief: true, Most: 50})
	all = slices.DeleteFunc(all, func(r Request) bool { return r.State.Over() || !l.by(r) })
	if err != nil || len(all) != 1 {
		return nil, "", err
	}
	return &all[0], "It brings no model. Who wrote it has one request open: " + string(all[0].Code) + ".", nil
}

// twin finds the request of a letter that came twice, as one to two of our
// addresses does: with the same Message-ID (RFC 5322 section 3.6.4), but by
// another way and so with other bytes. Programs have been known to use an
// identifier again, so the words and files must be those of the request too.
func (d *Desk) twin(tx Tx, l *Mail) (ID, error) {
	if l.MailID == "" {
		return "", nil
	}
	id, err := tx.RequestOfLetter(l.MailID)
	if err != nil {
		return "", unlessMissing(err)
	}
	r, err := tx.Request(id)
	if err != nil || !r.Forgotten.IsZero() || !l.fromPatron(r) {
		return "", unlessMissing(err)
	}
	have, err := tx.FilesOf(id)
	if err != nil {
		return "", err
	}
	for _, f := range l.Body.Files {
		if !slices.ContainsFunc(have, func(h File) bool { return h.Hash == f.Hash }) {
			return "", nil
		}
	}
	said := l.Body.Text[:min(len(l.Body.Text), mostText/2)] // what is kept of it may be shorter
	if strings.Contains(r.Wish.Note, said) && strings.HasPrefix(r.Wish.Note, l.Body.Subject) {
		return id, nil
	}
	all, err := tx.Messages(id)
	if err != nil {
		return "", err
	}
	if slices.ContainsFunc(all, func(m Message) bool { return m.From == ByPatron && strings.HasPrefix(m.Text, said) }) {
		return id, nil
	}
	return "", nil
}

// waitingTwin says whether a letter is the same as one that waits, or that a
// person has seen to without a request: nobody is to see to it twice.
func waitingTwin(tx Tx, l *Mail) (bool, error) {
	all, err := tx.MailByID(l.MailID)
	return slices.ContainsFunc(all, func(m Mail) bool {
		a, b := m.Body, l.Body
		return !m.Empty && (m.State == MailWaits || m.State == MailAside) && strings.EqualFold(a.From, b.From) && a.Subject == b.Subject && a.Text == b.Text &&
			slices.EqualFunc(a.Files, b.Files, func(x, y MailFile) bool { return x.Hash == y.Hash })
	}), err
}

func unlessMissing(err error) error {
	if KindOf(err) == NotFound {
		return nil
	}
	return err
}

// by says whether the letter says that the request's own address wrote it.
// That an answer should go there proves less: a mailbox takes some care who
// writes in another's name, and none to whom that one wants an answer sent.
func (l *Mail) by(r Request) bool {
	return r.Contact.Email != "" && strings.EqualFold(r.Contact.Email, l.Body.From)
}

// fromPatron says whether the letter is from the request's own address, or is
// to be answered there.
func (l *Mail) fromPatron(r Request) bool {
	return r.Contact.Email != "" && (strings.EqualFold(r.Contact.Email, l.Body.From) || strings.EqualFold(r.Contact.Email, l.Body.Answer))
}

// join adds a letter to a request's conversation, and its files to the request
// where files can still be added. Vouched says that they are the patron's: the
// letter is from the request's address, or a person put it there. From elsewhere
// a letter is shown and adds nothing.
func (d *Desk) join(tx Tx, set Settings, r Request, l *Mail, files []Upload, vouched bool) error {
	l.State, l.Request = MailPlaced, r.ID
	text, lang := l.Body.Text, r.Contact.Language // the patron reads it too
	have, err := tx.FilesOf(r.ID)
	if err != nil {
		return err
	}
	model := false
	var added, left []string
	for _, f := range files {
		if slices.ContainsFunc(have, func(h File) bool { return h.Hash == f.Hash }) {
			continue
		}
		open := r.State == Received || r.State == InReview || r.State == WithPatron
		if !vouched || !open || set.Rules.Takes(f.Name) && len(have) >= 2*set.Rules.MaxFiles {
			left = append(left, f.Name)
			continue
		}
		k, err := d.keepFile(tx, set.Rules, r.ID, f)
		if err != nil {
			return err
		}
		have = append(have, k)
		added = append(added, f.Name)
		model = model || k.Check != NoModel
	}
	if len(added) > 0 {
		text += "\n\n[" + sayEnclosed.in(lang, strings.Join(added, ", ")) + "]"
	}
	if len(left) > 0 {
		text += "\n\n[" + sayNotAdded.in(lang, strings.Join(left, ", ")) + "]"
	}
	for _, o := range toPatron(l.Body.Odd, lang) {
		text += "\n\n[" + o + "]"
	}
	say := "Answered by mail."
	if !l.fromPatron(r) {
		say = "A letter came from " + l.Body.From + ", which is not this request's address."
		text = "[" + sayWroteIt.in(lang, l.Body.From) + "]\n\n" + text
	}
	if _, err := d.hear(tx, &r, "mail-"+string(l.Hash), CleanText(strings.TrimSpace(text), 4*mostText), "wrote", say); err != nil {
		return err
	}
	if model && r.State == WithPatron {
		_, err = d.change(tx, r.ID, 0, APatron(), func(r *Request) (Event, error) {
			r.State, r.Due, r.Quote = InReview, zeroTime, nil
			return Event{What: "file added", Say: "Sent " + strings.Join(added, ", ") + " by mail: the offer was not for that, so it is in review again."}, nil
		})
	}
	return err
}

// fromMail makes a request of a letter with a model. One that the rules refuse
// waits for a person, with the reason.
func (d *Desk) fromMail(tx Tx, set Settings, l *Mail, files []Upload) error {
	s, err := d.submissionOf(tx, set, l, files)
	if err != nil {
		return err
	}
	if s.Branch == "" {
		l.Body.Why = "There is no branch to look after it: choose one in the mail settings."
		return nil
	}
	if was, err := d.before(tx, s); err != nil || was != nil {
		if was != nil {
			l.State, l.Request = MailPlaced, was.Request.ID
		}
		return err
	}
	forStaff := s
	forStaff.Contact.Language = "en" // as every reason that staff read
	err = d.refuse(tx, set, forStaff, nil)
	var f *Fault
	if asFault(err, &f) && (f.Kind == Wrong || f.Kind == TooMany) {
		l.Body.Why = f.Say
		for _, k := range []string{"files", "email", "name", "copies", "branch"} {
			if say := f.Fields[k]; say != "" {
				l.Body.Why = say
				break
			}
		}
		l.Body.Why = "It is more than the rules allow without a person. What the patron would be told: “" + l.Body.Why + "”"
		return nil
	} else if err != nil {
		return err
	}
	// The letter is placed first, so that the answer is threaded to it.
	s.ID = NewID()
	l.State, l.Request = MailPlaced, s.ID
	if err := tx.SaveMail(l); err != nil {
		return err
	}
	_, err = d.keep(tx, set, s, APatron())
	return err
}

// submissionOf is a letter as a request: nothing that its words seem to ask
// for is taken over but the branch, since somebody must look after it.
func (d *Desk) submissionOf(tx Tx, set Settings, l *Mail, files []Upload) (Submission, error) {
	branch := set.Mail.Branch
	all, err := tx.Branches()
	if err != nil {
		return Submission{}, err
	}
	takes := func(id ID) bool {
		return slices.ContainsFunc(all, func(b Branch) bool { return b.ID == id && !b.Shut })
	}
	for _, g := range l.Body.Suggest {
		if g.Field == "branch" && takes(ID(g.Value)) {
			branch = ID(g.Value)
			break
		}
	}
	if !takes(branch) {
		branch = ""
		for _, b := range all {
			if !b.Shut {
				branch = b.ID
				break
			}
		}
	}
	email, name := l.Body.Answer, l.Body.Name
	if email == "" {
		email = l.Body.From
	}
	if name == "" {
		name, _, _ = strings.Cut(email, "@")
	}
	language := l.Body.Language
	if !speaks(set, language) {
		language = ""
		if len(set.Library.Languages) > 0 {
			language = set.Library.Languages[0]
		}
	}
	note := l.Body.Text
	if l.Body.Subject != "" {
		note = l.Body.Subject + "\n\n" + note
	}
	for _, o := range toPatron(l.Body.Odd, language) {
		note += "\n\n[" + o + "]"
	}
	s := Submission{
		Form: "mail-" + string(l.Hash), Source: "mail", Branch: branch, Files: files,
		Contact: Contact{Name: name, Email: email, Language: language},
		Wish:    Wish{Copies: 1, Note: note, Suggest: l.Body.Suggest},
		Odd:     l.Body.Odd,
	}
	return s.cleaned(), nil
}

func (b MailBody) cleaned() MailBody {
	b.From, b.Name, b.Answer = CleanLine(b.From, mostMail), CleanLine(b.Name, mostName), CleanLine(b.Answer, mostMail)
	b.Subject, b.Text, b.Quoted = CleanLine(b.Subject, maxSubject), CleanText(b.Text, 4*mostText), CleanText(b.Quoted, 4*mostText)
	for i := range b.Files {
		b.Files[i].Name = CleanName(b.Files[i].Name)
	}
	return b
}

func (b MailBody) uploads() []Upload {
	var out []Upload
	for _, f := range b.Files {
		out = append(out, Upload{Name: f.Name, Hash: f.Hash, Size: f.Size})
	}
	return out
}
