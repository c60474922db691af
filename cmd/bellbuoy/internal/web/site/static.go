package site

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"
)

//go:embed static
var staticFiles embed.FS

// static serves the embedded files under names that hold their hash, so that a
// browser may keep them for ever and a new version is a new name.
type static struct {
	byName map[string]string // "log.css" -> "log.0123456789ab.css"
	byURL  map[string][]byte
}

func loadStatic() (*static, error) {
	st := &static{byName: make(map[string]string), byURL: make(map[string][]byte)}
	err := fs.WalkDir(staticFiles, "static", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := staticFiles.ReadFile(p)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(data)
		name := path.Base(p)
		ext := path.Ext(name)
		hashed := fmt.Sprintf("%s.%s%s", strings.TrimSuffix(name, ext), hex.EncodeToString(sum[:6]), ext)
		st.byName[name], st.byURL[hashed] = hashed, data
		return nil
	})
	return st, err
}

// url is the address of a static file; an unknown one is a mistake in a page.
func (st *static) url(name string) (string, error) {
	hashed, ok := st.byName[name]
	if !ok {
		return "", fmt.Errorf("static file %q: not embedded", name)
	}
	return "/static/" + hashed, nil
}

func (st *static) serve(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	data, ok := st.byURL[name]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	http.ServeContent(w, r, name, time.Time{}, strings.NewReader(string(data)))
}
