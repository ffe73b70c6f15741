// Package mail is the mailbox: what comes in, and what goes out.
//
// It reads letters (RFC 5322, MIME) that anyone in the world may have written,
// picks out who wrote, what was written, and the files enclosed, which go
// straight to the shelves and never lie in memory whole. It tells letters that
// people wrote from those of machines, so that no machine is ever answered.
// What a letter means for a request is decided on the ground floor.
//
// The idea: everything in a letter is hearsay. Nothing in it is trusted to name
// a file, to end, to be small, or to be what it says; and nothing that was
// enclosed is lost because something else in the letter was odd.
package mail
