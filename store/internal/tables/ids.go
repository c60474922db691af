package tables

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"
	"unicode"
)

// digest hashes a list of texts so that no two lists run into each other.
func digest(parts ...string) [sha256.Size]byte {
	var buf [256]byte
	b := buf[:0]
	for _, p := range parts {
		b = binary.AppendUvarint(b, uint64(len(p)))
		b = append(b, p...)
	}
	return sha256.Sum256(b)
}

// Hash63 is a digest that fits a row number.
func Hash63(parts ...string) int64 {
	d := digest(parts...)
	return int64(binary.BigEndian.Uint64(d[:8]) >> 1)
}

// RowID is a stable id made from what a row says.
func RowID(parts ...string) string {
	d := digest(parts...)
	return fmt.Sprintf("%x", d[:8])
}

// maxID is the length of the longest id in bytes.
const maxID = 64

// CheckID refuses what would break addresses and lists of ids.
func CheckID(s string) error {
	if len(s) > maxID {
		return fmt.Errorf("%q is %d bytes long; an id has at most %d", s, len(s), maxID)
	}
	if i := strings.IndexFunc(s, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) || r == '/' }); i >= 0 {
		return fmt.Errorf("%q holds a blank or a slash; an id has neither", s)
	}
	if s == "." || s == ".." {
		return fmt.Errorf("%q alone is no id: no page can have it as its address", s)
	}
	return nil
}
