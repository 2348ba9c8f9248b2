package strictjson

import (
	"encoding/base64"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// numberProblem says what is wrong with a number as the value of fd, or "".
func numberProblem(fd protoreflect.FieldDescriptor, raw []byte) string {
	shown := crop(string(raw))
	switch fd.Kind() {
	case protoreflect.DoubleKind:
		return floatProblem(raw, 64)
	case protoreflect.FloatKind:
		return floatProblem(raw, 32)
	case protoreflect.EnumKind:
		if n, err := strconv.ParseInt(whole(raw), 10, 32); err != nil || fd.Enum().Values().ByNumber(protoreflect.EnumNumber(n)) == nil {
			return fmt.Sprintf("%s is not known, must be %s", shown, allowed(fd))
		}
		return ""
	}
	bits, signed := width(fd)
	if bits == 0 {
		return fmt.Sprintf("is a number, must be %s", allowed(fd))
	}
	var err error
	if signed {
		_, err = strconv.ParseInt(whole(raw), 10, bits)
	} else {
		_, err = strconv.ParseUint(whole(raw), 10, bits)
	}
	if err != nil {
		return fmt.Sprintf("is %s, must be %s", shown, allowed(fd))
	}
	return ""
}

func floatProblem(raw []byte, bits int) string {
	if _, err := strconv.ParseFloat(string(raw), bits); err != nil {
		return fmt.Sprintf("is %s, which is too large", crop(string(raw)))
	}
	return ""
}

// textProblem says what is wrong with a text as the value of fd, or "". Numbers may stand in quotes,
// as proto3 JSON has it.
func textProblem(fd protoreflect.FieldDescriptor, text string) string {
	switch fd.Kind() {
	case protoreflect.StringKind:
		return ""
	case protoreflect.BytesKind:
		if !isBase64(text) {
			return fmt.Sprintf("must be %s", allowed(fd))
		}
		return ""
	case protoreflect.EnumKind:
		if fd.Enum().Values().ByName(protoreflect.Name(text)) == nil {
			return fmt.Sprintf("%q is not known, must be %s", crop(text), allowed(fd)) + didYouMean(text, enumWords(fd))
		}
		return ""
	case protoreflect.BoolKind:
		return fmt.Sprintf("is text, must be %s", allowed(fd))
	}
	if text != "" && numberLength([]byte(text)) == len(text) {
		return numberProblem(fd, []byte(text))
	}
	return fmt.Sprintf("is the text %q, must be %s", crop(text), allowed(fd))
}

// width returns the bits of a whole number, 0 for what is none.
func width(fd protoreflect.FieldDescriptor) (bits int, signed bool) {
	switch fd.Kind() {
	case protoreflect.Int32Kind, protoreflect.Sint32Kind, protoreflect.Sfixed32Kind:
		return 32, true
	case protoreflect.Int64Kind, protoreflect.Sint64Kind, protoreflect.Sfixed64Kind:
		return 64, true
	case protoreflect.Uint32Kind, protoreflect.Fixed32Kind:
		return 32, false
	case protoreflect.Uint64Kind, protoreflect.Fixed64Kind:
		return 64, false
	}
	return 0, false
}

// whole writes a JSON number without point and exponent (1.50e1 is 15); "" where that cannot be, or
// would be longer than any whole number here.
func whole(raw []byte) string {
	const mostDigits = 20 // of 64 bits
	sign, rest := "", string(raw)
	if strings.HasPrefix(rest, "-") {
		sign, rest = "-", rest[1:]
	}
	mantissa, power, _ := strings.Cut(strings.ToLower(rest), "e")
	before, after, _ := strings.Cut(mantissa, ".")
	after = strings.TrimRight(after, "0")
	digits := strings.TrimLeft(before+after, "0")
	if digits == "" {
		return "0"
	}
	shift := 0
	if power != "" {
		n, err := strconv.ParseInt(power, 10, 32)
		if err != nil {
			return ""
		}
		shift = int(n)
	}
	if len(strings.TrimLeft(before, "0"))+shift > mostDigits {
		return ""
	}
	shift -= len(after)
	if shift >= 0 {
		return sign + digits + strings.Repeat("0", shift)
	}
	kept := strings.TrimRight(digits, "0")
	if len(digits)+shift < len(kept) {
		return "" // a digit other than 0 behind the point
	}
	return sign + digits[:len(digits)+shift]
}

func isBase64(text string) bool {
	encoding := base64.StdEncoding
	if strings.ContainsAny(text, "-_") {
		encoding = base64.URLEncoding
	}
	if len(text)%4 != 0 {
		encoding = encoding.WithPadding(base64.NoPadding)
	}
	_, err := encoding.DecodeString(text)
	return err == nil
}

// mapKey returns the one spelling of a map's key that all its spellings share.
func mapKey(fd protoreflect.FieldDescriptor, key string) (canonical string, ok bool) {
	switch bits, signed := width(fd); {
	case bits > 0 && signed:
		n, err := strconv.ParseInt(key, 10, bits)
		return strconv.FormatInt(n, 10), err == nil
	case bits > 0:
		n, err := strconv.ParseUint(key, 10, bits)
		return strconv.FormatUint(n, 10), err == nil
	case fd.Kind() == protoreflect.BoolKind:
		return key, key == "true" || key == "false"
	}
	return key, true
}

// takesNull reports whether null is a value of fd rather than its absence.
func takesNull(fd protoreflect.FieldDescriptor) bool {
	if fd.IsList() || fd.IsMap() {
		return false
	}
	if md := fd.Message(); md != nil {
		return md.FullName() == "google.protobuf.Value"
	}
	return fd.Enum() != nil && fd.Enum().FullName() == "google.protobuf.NullValue"
}

// isWrapper reports whether md is a scalar in a message of its own, written like the scalar.
func isWrapper(md protoreflect.MessageDescriptor) bool {
	return md.ParentFile().Path() == "google/protobuf/wrappers.proto"
}
