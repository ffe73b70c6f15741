package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"platebook/engine/findings"
	"platebook/engine/say"
)

// CheckWork is what the check of a file needs.
type CheckWork struct {
	File     File
	Settings Settings
}

// FileForCheck notes that a file's check has begun, and returns what it needs.
// A file that needs no check any more is NotNow, one that is gone NotFound.
func (d *Desk) FileForCheck(ctx context.Context, file ID) (CheckWork, error) {
	var w CheckWork
	err := d.Store.Write(ctx, func(tx Tx) error {
		f, r, err := fileOf(tx, file)
		if err != nil {
			return err
		}
		if r.State.Over() || !f.Check.open() {
			return Faultf(NotNow, "This file needs no check any more.")
		}
		f.Check, f.Doing = Checking, ""
		if w.Settings, err = settings(tx); err != nil {
			return err
		}
		w.File = f
		return tx.SaveFile(&f)
	})
	return w, err
}

// open says whether a check is still to come.
func (s CheckState) open() bool { return s == Waiting || s == Checking }

// fileOf loads a file and its request.
func fileOf(tx Tx, file ID) (File, Request, error) {
	f, err := tx.File(file)
	if err != nil {
		return f, Request{}, err
	}
	r, err := tx.Request(f.Request)
	return f, r, err
}

// NoteDoing shows on the pages what a file's check is at.
func (d *Desk) NoteDoing(ctx context.Context, file ID, doing string) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		f, err := tx.File(file)
		if err != nil {
			return err
		}
		if f.Check != Checking {
			return nil
		}
		f.Doing = doing
		return tx.SaveFile(&f)
	})
}

// KeepCheck keeps what the check of a file found. When it was the last of a
// request's, the plan the wish amounts to is made and ways are sought for it.
func (d *Desk) KeepCheck(ctx context.Context, file ID, c Checked) error {
	return d.checkEnds(ctx, file, func(tx Tx, f *File) (Event, error) {
		c.At, c.Program = d.now(), d.Program
		// Solid and plan are not for keeping.
		c.Answer.Solid, c.Answer.Plan = nil, nil
		f.Check, f.Result = Done, &c
		if err := tx.Refer(f.Request, hashes(c.Sheet, c.Still, c.View)...); err != nil {
			return Event{}, err
		}
		say := fmt.Sprintf("“%s” was checked: it can be printed.", f.Name)
		if !c.Answer.Printable {
			say = fmt.Sprintf("“%s” was checked: something stands against printing it.", f.Name)
		}
		return Event{What: "checked", Say: say}, nil
	})
}

// CheckFailed notes that a check came to nothing by a mistake of ours, in a
// sentence for staff. The file is kept.
func (d *Desk) CheckFailed(ctx context.Context, file ID, why string) error {
	return d.checkEnds(ctx, file, func(tx Tx, f *File) (Event, error) {
		f.Check, f.Doing = Failed, why
		return Event{What: "check failed", Say: fmt.Sprintf("The check of “%s” failed: %s", f.Name, why)}, nil
	})
}

// checkEnds brings a file's check to an end, once.
func (d *Desk) checkEnds(ctx context.Context, file ID, end func(Tx, *File) (Event, error)) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		f, r, err := fileOf(tx, file)
		if err != nil {
			return err
		}
		if !f.Check.open() {
			return nil // done already, by an attempt whose end was not noted
		}
		f.Doing = ""
		e, err := end(tx, &f)
		if err != nil {
			return err
		}
		if err := tx.SaveFile(&f); err != nil {
			return err
		}
		if err := d.note(tx, r, Clockwork(), e); err != nil {
			return err
		}
		return d.checksDone(tx, r)
	})
}

// checksDone makes the plan the wish amounts to once nothing of the request is
// unchecked. A plan staff made stays as they made it.
func (d *Desk) checksDone(tx Tx, r Request) error {
	if r.State != Received && r.State != InReview || r.State == InReview && len(r.Plan.Parts) > 0 {
		return nil
	}
	files, err := tx.FilesOf(r.ID)
	if err != nil {
		return err
	}
	for _, f := range files {
		if f.Check != Done && f.Check != NoModel {
			return nil // to come, or failed: then staff decide
		}
	}
	s, err := settings(tx)
	if err != nil {
		return err
	}
	spools, err := tx.Spools([]ID{r.Branch}, false)
	if err != nil {
		return err
	}
	if s.Mail.On && s.Mail.Verdict && r.Source == "mail" && r.State == Received {
		if err := d.tellFound(tx, s, r, files); err != nil {
			return err
		}
	}
	_, err = d.change(tx, r.ID, 0, Clockwork(), func(r *Request) (Event, error) {
		r.Plan = Suggest(*r, files, s, spools)
		if len(r.Plan.Parts) == 0 {
			r.Basis = Basis{State: Done, Asked: r.Basis.Asked + 1, At: d.now(),
				Trouble: "Nothing that was sent can be planned as it is. What the checks found says why."}
			r.Ways = nil
			return Event{What: "planned", Say: "All files are checked, and none can be planned as it is."}, nil
		}
		return Event{What: "planned", Say: "All files are checked; ways to print them are being sought."}, d.seekWays(tx, r)
	})
	return err
}

// tellFound writes to the patron what the checks noticed, once. It promises
// nothing: staff decide.
func (d *Desk) tellFound(tx Tx, s Settings, r Request, files []File) error {
	letters, err := tx.Messages(r.ID)
	if err != nil {
		return err
	}
	for _, m := range letters {
		if strings.HasPrefix(m.Form, "text-"+string(TextFound)+"-") {
			return nil
		}
	}
	// A sketch or a note that came along was looked through by nobody yet.
	x := Extra{Files: slices.DeleteFunc(slices.Clone(files), func(f File) bool { return f.Check == NoModel })}
	x.Found, x.Fine = foundIn(files)
	return d.tell(tx, s, r, TextFound, x)
}

// FileFinding is a finding in a file of some name.
type FileFinding struct {
	File string
	findings.Finding
}

// foundInWords says findings, each with its file, in the language of a tag.
func foundInWords(found []FileFinding, tag string) []string {
	var all []string
	for _, f := range found {
		all = append(all, say.Of("%s: %s", f.File, f.ToPatron(tag)).In(tag))
	}
	return all
}

// foundIn is what a patron should know of the checks of their files, and
// whether nothing of it stops the print.
func foundIn(files []File) (found []FileFinding, fine bool) {
	fine = true
	for _, f := range files {
		if f.Result == nil {
			continue
		}
		fine = fine && f.Result.Answer.Printable
		for _, g := range f.Result.Answer.Findings {
			if g.Severity != findings.Note && len(found) < 12 {
				found = append(found, FileFinding{f.Name, g})
			}
		}
	}
	return found, fine
}

// CheckAgain has a file checked once more, as staff ask after a check failed.
func (d *Desk) CheckAgain(ctx context.Context, by Actor, file ID) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		f, r, err := fileOf(tx, file)
		if err != nil {
			return err
		}
		if err := by.Require(r.Branch, Reviewer, Operator); err != nil {
			return err
		}
		if f.Check.open() {
			return nil // it is on its way
		}
		if f.Check == NoModel || r.State.Over() {
			return Faultf(NotNow, "This file is not one to check, or its request is over.")
		}
		f.Check, f.Doing, f.Result = Waiting, "", nil
		if err := tx.SaveFile(&f); err != nil {
			return err
		}
		if err := tx.Enqueue(Job{Kind: CheckFile, ID: f.ID, Round: d.now().UnixMicro()}); err != nil {
			return err
		}
		return d.note(tx, r, by, Event{What: "check again", Say: fmt.Sprintf("“%s” is checked once more.", f.Name)})
	})
}

// hashes drops those that are empty.
func hashes(all ...Hash) []Hash {
	var out []Hash
	for _, h := range all {
		if h != "" {
			out = append(out, h)
		}
	}
	return out
}
