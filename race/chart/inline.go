package chart

import "bytes"

// Inline returns a drawing without its XML declaration, to be put into a page of HTML as it is. All text in it is escaped and it holds no
// script, style sheet or link.
func Inline(svg []byte) []byte {
	if i := bytes.Index(svg, []byte("?>\n")); bytes.HasPrefix(svg, []byte("<?xml")) && i >= 0 {
		return svg[i+3:]
	}
	return svg
}
