package draw

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// Styles draws what is installed, and how a file names it.
func Styles(styles []*rowdatumv1.Style) string {
	var p page
	if len(styles) == 0 {
		p.line("The service has no styles: no adjuster stands in its folder.")
	}
	for i, style := range styles {
		if i > 0 {
			p.line("")
		}
		p.style(style)
	}
	return p.String()
}

func (p *page) style(s *rowdatumv1.Style) {
	p.line("%s  %s", strings.TrimPrefix(s.GetName(), "styles/"), s.GetVersion())
	if s.GetState() != rowdatumv1.StyleState_SERVING {
		p.wrapped(">>          ", strings.TrimSuffix("not answering now: "+s.GetStateReason(), ": "))
	} else if s.GetStateReason() != "" { // a newer program that was refused
		p.wrapped(">>          ", s.GetStateReason())
	}
	if s.GetFiguresSchema() == nil {
		return
	}
	does := "only trims a row"
	if s.GetSetsPlantingDepth() {
		does = "sets planting depth"
	}
	p.wrapped("            ", fmt.Sprintf("%s; counted in %s; %s; %s a row",
		s.GetTitle(), s.GetCountUnit().GetOther(), does, minutes(s.GetTouchSeconds())))
	p.properties("  figures   ", s.GetFiguresSchema())
	p.properties("  setting   ", s.GetSettingSchema())
	for _, caution := range s.GetCautions() {
		p.wrapped("  caution   ", caution)
	}
}

// properties lists what a schema asks for, with its own words where it has some.
func (p *page) properties(lead string, schema *structpb.Struct) {
	properties := schema.GetFields()["properties"].GetStructValue().GetFields()
	for _, name := range slices.Sorted(maps.Keys(properties)) {
		fields := properties[name].GetStructValue().GetFields()
		text := cmp.Or(fields["description"].GetStringValue(), fields["title"].GetStringValue())
		p.wrapped(lead, strings.TrimSuffix(name+": "+text, ": "))
		lead = strings.Repeat(" ", len(lead))
	}
}
