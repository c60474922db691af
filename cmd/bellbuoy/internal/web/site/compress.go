package site

import (
	"bytes"
	"net/http"

	"github.com/klauspost/compress/gzhttp"
)

// compressing compresses pages, styles and scripts; feeds, pictures and downloads go
// out as they are.
func compressing() (func(http.Handler) http.HandlerFunc, error) {
	return gzhttp.NewWrapper(gzhttp.EnableZstd(false), gzhttp.ContentTypes([]string{"text/html", "text/css", "text/javascript"}))
}

// keys are how the addresses begin that are their own key.
var keys = [][]byte{[]byte("/cal/"), []byte("/my/"), []byte("/stop/")}

// keepPlain has a page go out uncompressed that holds such an address while the
// request brought words that it may repeat: by the lengths of compressed answers
// to many such requests the address could be guessed letter by letter.
func keepPlain(w http.ResponseWriter, r *http.Request, page []byte) {
	if r.URL.RawQuery == "" && r.Method != http.MethodPost {
		return
	}
	for _, k := range keys {
		if bytes.Contains(page, k) {
			w.Header().Set(gzhttp.HeaderNoCompression, "1")
		}
	}
}
