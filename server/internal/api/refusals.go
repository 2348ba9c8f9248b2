package api

import (
	"fmt"
	"strconv"
	"strings"

	"rowdatum/server/leveling"
)

// message is what an error says in a language. English is said where the error is made; another language
// says it again from the reason and what is variable in it. Violations that this room finds (words of enums,
// masks, page tokens, filters, names) are said in English alone: only a program can send them wrong.
func message(e *leveling.Error, l leveling.Language) string {
	if l == leveling.Spanish {
		if said := inSpanish(e); said != "" {
			return said + unplanned(e)
		}
	}
	return e.Message
}

// unplanned names the rows that an adjuster's failure leaves without a plan.
func unplanned(e *leveling.Error) string {
	if !strings.HasPrefix(e.Reason, "ADJUSTER_") && e.Reason != "STYLE_NOT_INSTALLED" || e.Metadata["rows"] == "" {
		return ""
	}
	return " Sin eso no hay plan para: " + rowsOf(e, leveling.Spanish) + "."
}

// rowsOf names the rows of an error's metadata.
func rowsOf(e *leveling.Error, l leveling.Language) string {
	var rows []int
	for number := range strings.SplitSeq(e.Metadata["rows"], ",") {
		if n, err := strconv.Atoi(number); err == nil {
			rows = append(rows, n)
		}
	}
	if len(rows) == 0 {
		return ""
	}
	return leveling.Voice{Language: l}.RowList(rows)
}

// inSpanish is empty for a reason that it does not know.
func inSpanish(e *leveling.Error) string {
	about := func(what string) string { return rowsOf(e, leveling.Spanish) + ": " + what }
	styled := func(format string) string { return fmt.Sprintf(format, e.Metadata["style"]) }
	switch e.Reason {
	case "INVALID_REQUEST":
		switch n := len(e.Violations); n {
		case 0:
			return "Un texto de la solicitud tiene un carácter que no se puede guardar."
		case 1:
			return "Hay un dato de la solicitud que está mal."
		default:
			return fmt.Sprintf("Hay %d datos de la solicitud que están mal.", n)
		}
	case "NOT_READABLE":
		return "La solicitud llegó dañada o incompleta."
	case "JOB_CLOSED":
		if e.Metadata["stage"] == "VOIDED" {
			return "Este trabajo está anulado y no admite más anotaciones."
		}
		return "Este trabajo está firmado y no admite más anotaciones."
	case "STALE_SETTING":
		return about("alguien se adelantó, o anotó algo entretanto; mire dónde está ahora el mecanismo y decida después.")
	case "STALE_ETAG", "STALE":
		return "Ha cambiado desde que se leyó. Léalo otra vez y decida después."
	case "NOTHING_READ":
		return about("no hay lectura con que hacer un plan.")
	case "NOT_STRIKABLE":
		return fmt.Sprintf("La anotación %s no se puede tachar: ya lo está, hay que tachar antes una posterior, o no es de las que se tachan.", e.Metadata["revision"])
	case "CAUTIONS_OPEN":
		return "Faltan precauciones por confirmar; una persona debe confirmar cada una antes de firmar el trabajo."
	case "ROWS_OPEN":
		return about("falta probar que quedó al nivel común, o una excepción con motivo.")
	case "REQUEST_ID_REUSED":
		return "Este identificador de solicitud ya se usó con otra solicitud. Use uno nuevo."
	case "PLANTER_HAS_JOBS":
		return "La sembradora tiene trabajos; un trabajo firmado nunca se borra."
	case "PLANTER_HAS_DIGS":
		return "La sembradora tiene semillas desenterradas anotadas; lo que se vio en el campo nunca se borra."

	case "HOOKS_FULL":
		return "El taller ya tiene el máximo de avisos automáticos."
	case "DELIVERY_WAITS":
		return "Este aviso todavía está en camino."

	case "STYLE_NOT_FOUND":
		return styled("No existe el tipo de mecanismo %q.")
	case "STYLE_NOT_INSTALLED":
		return styled("No está instalado el tipo de mecanismo %q.")
	case "ADJUSTER_SLOW":
		return styled("El programa del tipo de mecanismo %q no respondió a tiempo.")
	case "ADJUSTER_DOWN":
		return styled("El programa del tipo de mecanismo %q no está funcionando.")
	case "ADJUSTER_WRONG":
		return styled("El programa del tipo de mecanismo %q respondió mal.")

	case "PLANTER_NOT_FOUND":
		return "No existe esa sembradora."
	case "FIXTURE_NOT_FOUND":
		return "No existe ese calibre."
	case "JOB_NOT_FOUND":
		return "No existe ese trabajo."
	case "KEY_NOT_FOUND":
		return "No existe esa clave."
	case "CODE_NOT_FOUND", "CODE_WRONG":
		return "Este código está mal, ya se usó o es demasiado viejo. Pida uno nuevo."
	case "EXISTS":
		return "Ya existe."

	case "KEY_MISSING":
		return "Hace falta una clave: vincule este teléfono o dé la clave de su taller."
	case "KEY_WRONG":
		return "Esta clave no se conoce aquí."
	case "KEY_REVOKED":
		return "Esta clave fue retirada."
	case "KEY_EXPIRED":
		return "Esta clave ha vencido."
	case "KEY_NOT_PAIRED":
		return "Esta clave no se hizo vinculando un teléfono; se retira en la máquina donde funciona el servicio."
	case "SHARE_READS_ONE_JOB":
		return "Este enlace permite leer un solo trabajo y nada más."
	case "ROLE_TOO_LOW":
		return "Su clave no permite hacer esto."

	case "STOPPING", "STORE_CLOSED":
		return "El servicio se está deteniendo; no se cambió nada. Conéctese otra vez en un momento."
	case "READER_TOO_SLOW":
		return "Las novedades no se recibieron a tiempo. Conéctese otra vez desde la última que se vio."
	case "STORE_BUSY":
		return "Hay demasiados escribiendo en este momento; no se cambió nada."
	case "STORE_DOWN", "STORE_NOT_OPENED":
		return "No se puede llegar a los datos en este momento; no se cambió nada."
	case "STORE_FULL":
		return "No queda espacio en el disco donde están los datos; no se cambió nada. Envíelo otra vez cuando haya espacio."
	case "STORE_UNSURE":
		return "Se perdió la conexión con los datos mientras se guardaba; envíelo otra vez igual para saber si quedó guardado."
	case "BACKUP_FAILED":
		return "No se hizo la copia de respaldo."
	case "TOO_MANY_CALLS":
		return "Demasiadas llamadas a la vez; espere un momento."
	case "DEADLINE_EXCEEDED":
		return "La respuesta tardó demasiado; no se cambió nada."
	case "GAVE_UP":
		return "Se acabó el tiempo de la solicitud antes de atenderla; no se cambió nada."
	case "INTERNAL":
		return "Algo falló dentro del servicio; no se cambió nada."
	}
	switch {
	case strings.HasSuffix(e.Reason, "_NOT_FOUND"):
		return fmt.Sprintf("No existe %q.", e.Metadata["id"])
	case strings.HasSuffix(e.Reason, "_EXISTS"):
		return fmt.Sprintf("Ya existe %q.", e.Metadata["id"])
	}
	return ""
}
