package notify

import (
	"fmt"
	"strings"

	"golang.org/x/net/idna"
)

// CheckMailAddress returns the bare address to keep and to send to, its domain
// in ASCII. It refuses what mail servers read differently from one another or
// cannot deliver without SMTPUTF8: quoted local parts, comments, address
// literals, domains without a dot, letters outside ASCII before the @.
func CheckMailAddress(s string) (string, error) {
	bad := func(why string) (string, error) {
		return "", fmt.Errorf("email address %q: %s; want for example name@example.com", s, why)
	}
	s = strings.TrimSpace(s)
	at := strings.LastIndexByte(s, '@')
	if at < 1 {
		return bad("no @ with a name before it")
	}
	local, domain := s[:at], s[at+1:]
	if len(local) > 64 || len(s) > 254 { // RFC 5321 4.5.3.1
		return bad("too long")
	}
	for _, r := range local {
		if !strings.ContainsRune("!#$%&'*+-/=?^_`{|}~.", r) && !isAlphanumeric(r) {
			return bad(fmt.Sprintf("%q may not stand before the @", r))
		}
	}
	if local[0] == '.' || local[len(local)-1] == '.' || strings.Contains(local, "..") {
		return bad("the dots before the @ are misplaced")
	}
	ascii, err := idna.Lookup.ToASCII(domain)
	if again, e := idna.Lookup.ToASCII(ascii); err != nil || e != nil || again != ascii ||
		len(ascii) > 253 || !strings.Contains(strings.Trim(ascii, "."), ".") || strings.HasSuffix(ascii, ".") || strings.Contains("."+ascii, "..") {
		return bad("what follows the @ is no mail domain")
	}
	for _, r := range ascii {
		if r != '-' && r != '.' && !isAlphanumeric(r) {
			return bad("what follows the @ is no mail domain")
		}
	}
	return local + "@" + ascii, nil
}

func isAlphanumeric(r rune) bool {
	return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9'
}
