package post

import (
	"testing"
	"time"
)

func TestOpens(t *testing.T) {
	o := Open(t, time.Hour)
	if o.IMAP == o.SMTP {
		t.Fatal("both servers at one address")
	}
}
