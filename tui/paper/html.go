package paper

import (
	"fmt"
	"html/template"
	"io"

	"lanewright/tui/lane"
)

// HTML writes sheets as one self-contained file: no outside assets, black on white when printed, each sheet on its own page.
func HTML(w io.Writer, title string, sheets ...Document) error {
	return webPage.Execute(w, struct {
		Title  string
		Sheets []Document
	}{title, sheets})
}

var webPage = template.Must(template.New("paper").Funcs(template.FuncMap{
	"shape": func(n int) string {
		if n == 0 {
			return ""
		}
		return lane.Of(n).Shape + " "
	},
	"mark": func(n int) template.CSS {
		if n == 0 {
			return ""
		}
		return template.CSS(fmt.Sprintf("border-bottom-color:#%06x", lane.Of(n).RGB)) // our own constants
	},
}).Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{{.Title}}</title>
<style>
body { font: 11pt/1.35 system-ui, sans-serif; color: #000; background: #fff; margin: 1.5cm; font-variant-numeric: tabular-nums; }
h1 { font-size: 15pt; margin: 0; } h2 { font-size: 12pt; } .under { margin: 0 0 .6cm; color: #444; }
table { border-collapse: collapse; margin-bottom: .5cm; }
th, td { padding: .08cm .25cm; border-bottom: .2mm solid #888; text-align: left; }
th { border-bottom: .7mm solid #000; }
.n { text-align: right; }
section + section { break-before: page; margin-top: 1.2cm; }
tr { break-inside: avoid; }
</style>
</head>
<body>
{{range .Sheets}}<section>
<h1>{{.Title}}</h1>
<p class="under">{{.Under}}</p>
{{range .Tables}}{{if .Title}}<h2>{{.Title}}</h2>
{{end}}{{$columns := .Columns}}<table>
<thead><tr>{{range .Columns}}<th{{if .Figures}} class="n"{{end}}{{if .Lane}} style="{{mark .Lane}}"{{end}}>{{shape .Lane}}{{.Head}}</th>{{end}}</tr></thead>
<tbody>
{{range .Rows}}<tr>{{range $i, $c := .}}<td{{if (index $columns $i).Figures}} class="n"{{end}}>{{$c.Text}}</td>{{end}}</tr>
{{end}}</tbody>
</table>
{{end}}{{if .Notes}}<ul>{{range .Notes}}<li>{{.}}</li>{{end}}</ul>
{{end}}</section>
{{end}}</body>
</html>
`))
