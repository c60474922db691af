package site

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
)

// Seen is a short name for what a form was made for. A form carries it, so that
// what somebody else changed meanwhile is not overwritten.
func Seen(what any) string {
	b, err := json.Marshal(what)
	if err != nil {
		panic(err) // facts always encode
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:8])
}
