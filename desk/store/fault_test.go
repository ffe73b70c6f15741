package store

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"syscall"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"platebook/desk"
)

// TestSayFor: what a librarian can act on is a NoRoom Fault, by PostgreSQL's
// table of error codes (its manual, appendix A) and errno(3); anything else
// stays as it is.
func TestSayFor(t *testing.T) {
	pg := func(code string) error { return fmt.Errorf("write: %w", &pgconn.PgError{Code: code}) }
	for _, c := range []struct {
		err  error
		want string
	}{
		{pg("53100"), sayFull},   // disk_full
		{pg("53200"), sayFull},   // out_of_memory
		{pg("57014"), sayBusy},   // query_canceled
		{pg("55P03"), sayBusy},   // lock_not_available
		{pg("40001"), sayBusy},   // serialization_failure
		{pg("40P01"), sayBusy},   // deadlock_detected
		{pg("58030"), sayBroken}, // io_error
		{pg("08006"), sayGone},   // connection_failure
		{pg("57P01"), sayGone},   // admin_shutdown
		{pg("57P03"), sayGone},   // cannot_connect_now
		{pg("53300"), sayGone},   // too_many_connections
		{pg("23505"), ""},        // unique_violation: a mistake of ours
		{pg("42601"), ""},        // syntax_error
		{&os.PathError{Err: syscall.ENOSPC}, sayFull},
		{&os.PathError{Err: syscall.EDQUOT}, sayFull},
		{&os.PathError{Err: syscall.EIO}, sayBroken},
		{&os.PathError{Err: syscall.EROFS}, sayBroken},
		{&os.PathError{Err: fs.ErrPermission}, sayBroken}, // however a system numbers it
		{&os.PathError{Err: syscall.ENOENT}, ""},
		{&net.OpError{Op: "dial", Err: syscall.ECONNREFUSED}, sayGone},
		{fmt.Errorf("read: %w", io.ErrUnexpectedEOF), sayGone},
		{driver.ErrBadConn, sayGone},
		{context.DeadlineExceeded, sayBusy},
		{context.Canceled, ""},
		{errors.New("other"), ""},
	} {
		if got := sayFor(c.err); got != c.want {
			t.Errorf("%v: %q, want %q", c.err, got, c.want)
		}
		got := fault(c.err)
		if c.want == "" && got != c.err || c.want != "" && (desk.KindOf(got) != desk.NoRoom || !errors.Is(got, c.err)) {
			t.Errorf("%v became %v", c.err, got)
		}
	}
	// Numbers by Microsoft's list of system error codes.
	for n, want := range map[syscall.Errno]string{112: sayFull, 39: sayFull, 1295: sayFull, 32: sayBusy, 33: sayBusy, 5: sayBroken, 19: sayBroken, 23: sayBroken, 1117: sayBroken, 2: "", 183: ""} {
		if got := sayOnWindows(n); got != want {
			t.Errorf("Windows' error %d: %q, want %q", n, got, want)
		}
	}
	mine := desk.Faultf(desk.Stale, "mine")
	if got := fault(fmt.Errorf("x: %w", mine)); desk.KindOf(got) != desk.Stale {
		t.Errorf("a Fault became %v", got)
	}
}
