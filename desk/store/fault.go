package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"
	"io/fs"
	"net"
	"runtime"
	"strings"
	"syscall"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
	sqlitecode "modernc.org/sqlite/lib"

	"platebook/desk"
)

const (
	sayFull   = "There is no room left where the desk keeps its data, so nothing of this was kept. Nothing that was kept before is lost. Make room on the disk, then send it again."
	sayBusy   = "The desk's database is in use by something else and could not be written in time, so nothing of this was kept. Wait a minute, then send it again."
	sayBroken = "The disk with the desk's data could not be read or written, so nothing of this was kept. Whoever looks after the machine should see to the disk before anything else is done."
	sayGone   = "The desk cannot reach its database just now. What was sent may not have been kept: look whether it is there, then send it again."
)

// fault makes an error of a database or disk a NoRoom Fault where a person can
// do something about it, and leaves any other as it is.
func fault(err error) error {
	var f *desk.Fault
	if err == nil || errors.As(err, &f) {
		return err
	}
	if say := sayFor(err); say != "" {
		return &desk.Fault{Kind: desk.NoRoom, Say: say, Err: err}
	}
	return err
}

func sayFor(err error) string {
	var lite *sqlite.Error
	var pg *pgconn.PgError
	var connect *pgconn.ConnectError
	var network *net.OpError
	var number syscall.Errno
	switch {
	case errors.As(err, &lite):
		switch lite.Code() & 0xff { // the rest of the code says in which call
		case sqlitecode.SQLITE_FULL:
			return sayFull
		case sqlitecode.SQLITE_BUSY, sqlitecode.SQLITE_LOCKED:
			return sayBusy
		case sqlitecode.SQLITE_IOERR, sqlitecode.SQLITE_CANTOPEN, sqlitecode.SQLITE_READONLY,
			sqlitecode.SQLITE_CORRUPT, sqlitecode.SQLITE_NOTADB:
			return sayBroken
		}
	case errors.As(err, &pg):
		switch {
		case pg.Code == "53100", pg.Code == "53200": // disk_full, out_of_memory
			return sayFull
		case pg.Code == "57014", pg.Code == "55P03", lostRace(err): // query_canceled by a timeout, lock_not_available
			return sayBusy
		case strings.HasPrefix(pg.Code, "58"): // system error
			return sayBroken
		case strings.HasPrefix(pg.Code, "08"), strings.HasPrefix(pg.Code, "57P"), pg.Code == "53300":
			return sayGone
		}
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return sayFull
	case errors.Is(err, syscall.EIO), errors.Is(err, syscall.EROFS), errors.Is(err, fs.ErrPermission):
		return sayBroken
	case runtime.GOOS == "windows" && errors.As(err, &number) && sayOnWindows(number) != "":
		return sayOnWindows(number)
	case errors.Is(err, context.Canceled):
		return "" // nobody waits for the answer
	case errors.Is(err, context.DeadlineExceeded):
		return sayBusy
	case errors.As(err, &connect), errors.As(err, &network), errors.Is(err, driver.ErrBadConn),
		errors.Is(err, sql.ErrConnDone), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, syscall.EPIPE):
		return sayGone
	}
	return ""
}

// sayOnWindows is sayFor by the numbers Windows has for what befalls a disk:
// the ones package syscall calls ENOSPC and the like never come from it.
func sayOnWindows(n syscall.Errno) string {
	switch n {
	case 112, 39, 1295: // ERROR_DISK_FULL, ERROR_HANDLE_DISK_FULL, ERROR_DISK_QUOTA_EXCEEDED
		return sayFull
	case 32, 33: // ERROR_SHARING_VIOLATION, ERROR_LOCK_VIOLATION
		return sayBusy
	case 5, 19, 23, 1117: // ERROR_ACCESS_DENIED, ERROR_WRITE_PROTECT, ERROR_CRC, ERROR_IO_DEVICE
		return sayBroken
	}
	return ""
}

// lostRace says whether PostgreSQL undid a transaction because it could not be
// put in line with another: run again, it may well get through.
func lostRace(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && (pg.Code == "40001" || pg.Code == "40P01") // serialization_failure, deadlock_detected
}
