package message

import (
	"bytes"
	"crypto"
	"errors"
	"fmt"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"
)

// DKIM is a key that signs letters (RFC 6376).
type DKIM struct {
	domain, selector string
	key              crypto.Signer
}

// NewDKIM reads a private key, RSA or Ed25519 in PEM, for a domain and a
// selector whose public half stands in the DNS.
func NewDKIM(domain, selector string, pem []byte) (*DKIM, error) {
	if domain == "" || selector == "" {
		return nil, errors.New("dkim: domain and selector are both needed")
	}
	key, err := gomail.PrivKeyFromPEM(pem)
	if err != nil {
		return nil, fmt.Errorf("DKIM key for %s._domainkey.%s: %w; want an RSA or Ed25519 private key in PEM", selector, domain, err)
	}
	return &DKIM{domain: domain, selector: selector, key: key}, nil
}

// signedHeaders are the fields under the signature. RFC 8058 section 4 asks for
// both List-Unsubscribe fields; a field that a mail lacks is signed as absent.
var signedHeaders = []string{
	"From", "To", "Reply-To", "Subject", "Date", "Message-ID", "MIME-Version", "Content-Type", "Content-Language",
	"Auto-Submitted", "List-Id", "List-Unsubscribe", "List-Unsubscribe-Post",
}

// sign puts the signature before a letter: relaxed for header and body, because
// relays refold and trim, and dated as the letter is. The fields that say who
// writes to whom about what are signed once more as absent, so that nobody can
// add a second one.
func (k *DKIM) sign(letter []byte, at time.Time) ([]byte, error) {
	s := gomail.NewDKIMSigner(k.domain, k.selector, k.key)
	s.NowFunc = func() time.Time { return at }
	s.HeaderCanonicalization(gomail.CanonicalizationRelaxed)
	s.BodyCanonicalization(gomail.CanonicalizationRelaxed)
	s.SignHeaders(signedHeaders...)
	s.OversignHeaders("From", "To", "Subject", "Reply-To")
	head, body, _ := bytes.Cut(letter, []byte("\r\n\r\n"))
	field, err := s.Sign(append(bytes.Clone(head), "\r\n"...), body)
	if err != nil {
		return nil, fmt.Errorf("sign the letter: %w", err)
	}
	return append([]byte(refoldSignature(field)), letter...), nil
}

// refoldSignature breaks the signature's lines where they may be broken. The
// signer signs the field unfolded but hands it out folded inside the long h=
// tag too, where a fold reads as a space and the signature would not hold. At
// the blank between two tags a fold changes nothing, and the b= tag is left out
// of what is signed.
func refoldSignature(field string) string {
	const width = 74
	field = strings.ReplaceAll(strings.TrimRight(field, "\r\n"), "\r\n ", "")
	cut := strings.LastIndex(field, "; ") + 2
	tags, b := field[:cut], field[cut:]
	var out strings.Builder
	out.WriteString(strings.ReplaceAll(tags, "; ", ";\r\n "))
	for len(b) > width {
		out.WriteString(b[:width] + "\r\n ")
		b = b[width:]
	}
	return out.String() + b + "\r\n"
}
