package notify

import (
	"crypto"
	"errors"
	"fmt"
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
		return nil, fmt.Errorf("dkim key for %s._domainkey.%s: %w; want an RSA or Ed25519 private key in PEM", selector, domain, err)
	}
	return &DKIM{domain: domain, selector: selector, key: key}, nil
}

// signedHeaders are the fields under the signature. RFC 8058 section 4 asks for
// both List-Unsubscribe fields; a field that a mail lacks is signed as absent.
var signedHeaders = []string{
	"From", "To", "Reply-To", "Subject", "Date", "Message-ID", "MIME-Version", "Content-Type", "Content-Language",
	"Auto-Submitted", "List-Id", "List-Unsubscribe", "List-Unsubscribe-Post",
}

// signer makes the signer of one letter: relaxed for header and body, because
// relays refold and trim, and dated as the letter is. The fields that say who
// writes to whom about what are signed once more as absent, so that nobody can
// add a second one.
func (k *DKIM) signer(at time.Time) *gomail.DKIMSigner {
	s := gomail.NewDKIMSigner(k.domain, k.selector, k.key)
	s.NowFunc = func() time.Time { return at }
	s.HeaderCanonicalization(gomail.CanonicalizationRelaxed)
	s.BodyCanonicalization(gomail.CanonicalizationRelaxed)
	s.SignHeaders(signedHeaders...)
	s.OversignHeaders("From", "To", "Subject", "Reply-To")
	return s
}
