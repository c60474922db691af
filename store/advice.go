package store

import (
	"errors"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"
)

// SQLite's primary result codes that a person can do something about.
const (
	codeBusy     = 5
	codeReadOnly = 8
	codeIO       = 10
	codeCorrupt  = 11
	codeFull     = 13
	codeCantOpen = 14
	codeNotADB   = 26
	// codeNoRoomForIndex is an I/O error of its own kind: the index of the log
	// could not be made larger.
	codeNoRoomForIndex = codeIO | 19<<8
)

// Advice says in a sentence what to do about an error that comes from the disk
// or the file and not from the shop's data; "" if it knows nothing better than
// the error itself. Whatever it is, nothing half done was kept.
func Advice(err error) string {
	code := primaryCode(err)
	switch {
	case err == nil:
		return ""
	case code == codeFull, errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return "the disk is full: make room (old backups are a good place to begin) and try again; nothing was changed"
	case code == codeReadOnly, errors.Is(err, syscall.EROFS):
		return "the database or its folder cannot be written to: look whether the disk is mounted read-only, and whether the file and its folder belong to the user that bellbuoy runs as; nothing was changed"
	case code == codeCantOpen:
		return "bellbuoy needs to read and write the database and its folder: \"ls -l\" shows whose they are; give them to the user that bellbuoy runs as; nothing was changed"
	case errors.Is(err, fs.ErrPermission):
		return "the user that bellbuoy runs as may not do that there: \"ls -l\" shows whose the file and its folder are; nothing was changed"
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return "there is no such file or folder: look at its name, and from which folder bellbuoy was started; a folder to write into must be there already; nothing was changed"
	case code == codeBusy:
		return "another program holds the database; try again when it is done"
	case code == codeCorrupt, code == codeNotADB:
		return "the file is damaged or no database: leave it as it is, and put the newest backup in its place with \"bellbuoy restore\", which keeps the damaged file aside"
	case code == codeIO, errors.Is(err, syscall.EIO), errors.Is(err, syscall.EFBIG):
		return "the disk did not do what it was asked to: look at the system's log and at how full the disk is before going on; nothing was changed"
	}
	return ""
}

// IsDamaged reports whether an error says that a file is damaged or no database
// at all.
func IsDamaged(err error) bool {
	code := primaryCode(err)
	return code == codeCorrupt || code == codeNotADB
}

// primaryCode is SQLite's result code within an error, 0 if there is none.
func primaryCode(err error) int {
	var q *sqlite.Error
	switch {
	case !errors.As(err, &q):
		return 0
	case q.Code() == codeNoRoomForIndex:
		return codeFull
	}
	return q.Code() & 0xff
}
