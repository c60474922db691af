package store

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
)

// didYouMean asks whether the word of the list that is nearest to s was meant;
// if none is near, it says otherwise.
func didYouMean(s string, list []string, otherwise string) string {
	best, at := "", max(1, len(s)/3)+1
	for _, w := range list {
		if d := editDistance(s, w, at); d < at {
			best, at = w, d
		}
	}
	if best == "" {
		return otherwise
	}
	return fmt.Sprintf("did you mean %q?", best)
}

// editDistance counts the letters to insert, delete or change to turn a into b
// (Levenshtein), and gives up at limit.
func editDistance(a, b string, limit int) int {
	x, y := []rune(a), []rune(b)
	if len(x)-len(y) >= limit || len(y)-len(x) >= limit {
		return limit
	}
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			cost := diagonal
			if x[i] != y[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return min(row[len(y)], limit)
}

// digest hashes a list of texts so that no two lists run into each other.
func digest(parts ...string) [sha256.Size]byte {
	var buf [256]byte
	b := buf[:0]
	for _, p := range parts {
		b = binary.AppendUvarint(b, uint64(len(p)))
		b = append(b, p...)
	}
	return sha256.Sum256(b)
}

// hash63 is a digest that fits a row number.
func hash63(parts ...string) int64 {
	d := digest(parts...)
	return int64(binary.BigEndian.Uint64(d[:8]) >> 1)
}

// rowID is a stable id made from what a row says.
func rowID(parts ...string) string {
	d := digest(parts...)
	return fmt.Sprintf("%x", d[:8])
}
