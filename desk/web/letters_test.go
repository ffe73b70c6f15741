package web

import (
	"time"

	"platebook/desk"
)

func init() {
	at := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	waiting := []letterLine{{"/desk/letters/1", "Wren Hollis, wren@patrons.example", "could you print this?", "It brings no model, but a link. Ask for the file itself: links are not opened from here.", 0, at},
		{"/desk/letters/2", "x@patrons.example", "", "It does not say who wrote it.", 2, at}}
	machines := []letterLine{{"/desk/letters/4", "Mail Delivery, mailer-daemon@larkmere.example", "Undelivered mail", "It says that a letter to wren@patrons.example came back: 550 no such mailbox.", 0, at},
		{"/desk/letters/5", "news@makers.example", "<b>News</b>", "Nobody wrote it: it came by a mailing list.", 1, at}}
	example(lettersPage, "two waiting, one not sent", lettersView{
		Troubles: []string{"The server for the mail in refuses the user name or password. Enter them again in the mail settings."},
		Waiting:  waiting, More: true,
		Failed: []letterOut{{ID: "3", To: "wren@patrons.example", Subject: "K7-204: your print is ready", Trouble: "The server for the mail out said: no such mailbox.", Made: at, Request: "/desk/letters/out/3/request"},
			{ID: "6", To: "ada@patrons.example", Subject: "Re: opening hours", Trouble: "It came back: mailbox full.", Made: at}},
		Machines: letterList{Lines: machines, Older: "/desk/letters/kept/machines?after=5"},
		Aside:    letterList{Lines: waiting[:1]},
	})
	example(quietPage, "from machines", quietView{Title: "From machines", Say: "None was answered.", List: letterList{machines, "/desk/letters/kept/machines?after=5"}, First: "/desk/letters/kept/machines"})
	body := mailView{Path: "/desk/letters/1", From: "Wren Hollis, wren@patrons.example", Subject: "Re: <b>K7-204</b>", Text: "Two of these, please.\n\nIn red.", Quoted: "> Which colour?",
		Why: "Its subject names K7-204, but it is from another address than that request's.", Forwarded: "ada@patrons.example", Came: at, Waits: true, Models: true, Answers: true, Request: "/desk/r/K7-204",
		Files: []desk.MailFile{{Name: "hook.stl", Size: 123_456, In: "kit.zip"}}, Links: []string{"https://files.example/hook.stl"}, Odd: []string{`"a.stl" in "a.zip" is locked with a password; ask for it unlocked.`},
		Wishes: []desk.Suggestion{{Field: "copies", Value: "2", Words: "Two of these"}, {Field: "size", Value: "60", Axis: "tall", Words: "6 cm tall"}},
		Code:   Field{Name: "code", Label: "Code of the request", Width: "short", Error: "Give the code of the request, such as K7-204."}, Branch: Field{Name: "branch", Label: "Branch that looks after it", Type: "select", Choices: []Choice{{Value: "b", Label: "Millgate"}}},
		Name:          Field{Name: "name", Label: "Patron’s name", Width: "mid", Optional: true},
		Email:         Field{Name: "email", Label: "Patron’s mail address", Type: "email", Width: "mid", Value: "wren@patrons.example", Hint: "As the letter seems to say."},
		AnswerSubject: Field{Name: "subject", Label: "Subject", Value: "Re: K7-204"}, AnswerText: Field{Name: "text", Label: "Answer", Rows: 9, Value: "Hello"}, Note: Field{Name: "why", Label: "Why it needs nothing", Optional: true}}
	body.Errors = missed(body.Code)
	example(letterPage, "waiting", body)
	body.Waits, body.May, body.Answers, body.Errors = false, true, false, nil
	body.Why = "Nobody wrote it: it was sent in bulk."
	example(letterPage, "from a machine", body)
	body.May, body.Became = false, "This letter is with a request, where Rowan put it."
	example(letterPage, "placed", body)
}
