package store

import (
	"errors"
	"fmt"
	"strings"

	"golang.org/x/net/idna"
)

// CheckAddress returns the address as mail may be sent to it: a plain local
// part in ASCII and a dotted domain, the domain in lower case and its letters
// beyond ASCII in the A-label form. Quoted local parts, comments and address
// literals are legal in RFC 5321 and refused here: nobody's real address has
// them, and mail programs disagree about them.
func CheckAddress(s string) (string, error) {
	local, domain, ok := strings.Cut(s, "@")
	if !ok || strings.Contains(domain, "@") {
		return "", fmt.Errorf("%q is not an address; want one @", s)
	}
	if err := checkLocal(local); err != nil {
		return "", fmt.Errorf("%q is not an address: %w", s, err)
	}
	ascii, err := idna.Lookup.ToASCII(domain)
	if err != nil || !strings.Contains(ascii, ".") || strings.HasSuffix(ascii, ".") || len(ascii) > 253 {
		return "", fmt.Errorf("%q is not an address: %q is no domain", s, domain)
	}
	return local + "@" + ascii, nil
}

// atext are the characters of a plain local part beside letters and digits
// (RFC 5322, section 3.2.3).
const atext = "!#$%&'*+-/=?^_`{|}~."

func checkLocal(local string) error {
	if local == "" || len(local) > 64 {
		return errors.New("1 to 64 characters stand before the @")
	}
	if strings.HasPrefix(local, ".") || strings.HasSuffix(local, ".") || strings.Contains(local, "..") {
		return errors.New("a dot stands between two other characters")
	}
	for _, r := range local {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune(atext, r)) {
			return fmt.Errorf("%q cannot stand before the @", r)
		}
	}
	return nil
}
