package lease

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/aws/smithy-go/aws-http-auth/credentials"
	"github.com/aws/smithy-go/aws-http-auth/sigv4"
	v4 "github.com/aws/smithy-go/aws-http-auth/v4"

	"bellbuoy/schedule/words"
)

// ErrChanged says that the object is not as a write was to find it; nothing was written.
var ErrChanged = errors.New("the lease was written by somebody else")

// Object is the lease in S3-compatible storage, which must honor If-Match and
// If-None-Match when it is written; see [Keeper].
type Object struct {
	URL    string // of the object itself
	Region string
	// Keys gives the access key and its secret of the moment.
	Keys func() (id, secret string, err error)
}

// content is what lies in it. Count and holder make each write another one, so that
// its tag changes also where that is made from the bytes. At is for people.
type content struct {
	Holder string    `json:"holder"`
	Count  int64     `json:"count"`
	At     time.Time `json:"at"`
}

// Read says how it is now; a zero [Seen] if there is none.
func (o *Object) Read(ctx context.Context) (Seen, error) {
	r, body, err := o.ask(ctx, http.MethodGet, nil, nil)
	switch {
	case err != nil:
		return Seen{}, err
	case r.StatusCode == http.StatusNotFound:
		return Seen{}, nil
	case r.StatusCode != http.StatusOK:
		return Seen{}, refused(r, body)
	}
	var c content
	if err := json.Unmarshal(body, &c); err != nil || c.Holder == "" {
		return Seen{}, fmt.Errorf("lease %s: it holds no lease but something else; name an object of its own", o.URL)
	}
	return Seen{Tag: r.Header.Get("ETag"), Holder: c.Holder}, nil
}

// Write writes it over the state of a tag, "" for where there is none. [ErrChanged] if
// the state is another; after any other error nobody knows whether it was written.
func (o *Object) Write(ctx context.Context, over string, c content) (tag string, err error) {
	text, err := json.Marshal(c)
	if err != nil {
		return "", err
	}
	condition := http.Header{"If-Match": {over}}
	if over == "" {
		condition = http.Header{"If-None-Match": {"*"}}
	}
	r, body, err := o.ask(ctx, http.MethodPut, condition, text)
	if err != nil {
		return "", err
	}
	switch r.StatusCode {
	case http.StatusOK:
		return r.Header.Get("ETag"), nil
	case http.StatusPreconditionFailed, http.StatusConflict, http.StatusNotFound: // it changed, is changing, is gone
		return "", ErrChanged
	}
	return "", refused(r, body)
}

// mostContent is more than a lease or an error takes.
const mostContent = 1 << 14

func (o *Object) ask(ctx context.Context, method string, header http.Header, text []byte) (*http.Response, []byte, error) {
	id, secret, err := o.Keys()
	if err != nil {
		return nil, nil, err
	}
	req, err := http.NewRequestWithContext(ctx, method, o.URL, bytes.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	for k, v := range header {
		req.Header[k] = v
	}
	sum := sha256.Sum256(text)
	err = sigv4.New().SignRequest(&sigv4.SignRequestInput{
		Request: req, PayloadHash: sum[:], Service: "s3", Region: o.Region,
		Credentials: credentials.Credentials{AccessKeyID: id, SecretAccessKey: secret},
	}, func(s *v4.SignerOptions) { s.AddPayloadHashHeader, s.DisableDoublePathEscape = true, true }) // as S3 asks
	if err != nil {
		return nil, nil, err
	}
	r, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, nil, err
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, mostContent))
	return r, body, errors.Join(err, r.Body.Close())
}

// refused says in a line what the storage answered.
func refused(r *http.Response, body []byte) error {
	return fmt.Errorf("lease %s: the storage answers %s %s", r.Request.URL.Redacted(), r.Status, words.OneLine(strings.ToValidUTF8(string(body), "")))
}
