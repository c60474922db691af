package message

import (
	_ "embed"
	"fmt"
	"html/template"
	"strings"

	"github.com/vanng822/go-premailer/premailer"
)

//go:embed templates/mail.html
var pageTemplate string

// htmlText sets the content as HTML. Styles are copied onto the elements,
// because many mail readers drop the sheet; the sheet stays for the dark mode
// and the narrow screens of those that keep it.
func htmlText(page *template.Template, c *content) (string, error) {
	var b strings.Builder
	if err := page.Execute(&b, c); err != nil {
		return "", fmt.Errorf("fill the mail page: %w", err)
	}
	p, err := premailer.NewPremailerFromString(b.String(), premailer.NewOptions(premailer.WithCssToAttributes(false)))
	if err != nil {
		return "", fmt.Errorf("inline the email's styles: %w", err)
	}
	html, err := p.Transform()
	if err != nil {
		return "", fmt.Errorf("inline the email's styles: %w", err)
	}
	return html, nil
}
