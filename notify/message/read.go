package message

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"strings"
)

// PlainText is the text of an email as [Renderer.Message] made it, "" if it has
// none.
func PlainText(raw []byte) (string, error) {
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return "", fmt.Errorf("read the email: %w", err)
	}
	text, err := plainPart(m.Header.Get("Content-Type"), m.Header.Get("Content-Transfer-Encoding"), m.Body)
	if err != nil {
		return "", fmt.Errorf("read the email's text: %w", err)
	}
	return strings.ReplaceAll(text, "\r\n", "\n"), nil
}

// plainPart is the first plain text in a part and the parts in it.
func plainPart(kind, encoding string, body io.Reader) (string, error) {
	media, params, err := mime.ParseMediaType(kind)
	if err != nil {
		return "", err
	}
	switch {
	case media == "text/plain":
		switch strings.ToLower(encoding) {
		case "quoted-printable":
			body = quotedprintable.NewReader(body)
		case "base64":
			body = base64.NewDecoder(base64.StdEncoding, body)
		}
		b, err := io.ReadAll(body)
		return string(b), err
	case !strings.HasPrefix(media, "multipart/"):
		return "", nil
	}
	for parts := multipart.NewReader(body, params["boundary"]); ; {
		p, err := parts.NextRawPart()
		if err == io.EOF {
			return "", nil
		}
		if err != nil {
			return "", err
		}
		text, err := plainPart(p.Header.Get("Content-Type"), p.Header.Get("Content-Transfer-Encoding"), p)
		if err != nil || text != "" {
			return text, err
		}
	}
}
