/* Making and checking certificates with GnuTLS. Files are written beside their place and put there in one step, keys
 * with mode 0600 from the beginning. */
#define _DEFAULT_SOURCE /* IFF_UP and IFF_LOOPBACK are no part of POSIX */
#include "authority.h"

#include "desk.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <gnutls/crypto.h>
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define DAY_MS 86400000LL
#define AUTHORITY_DAYS 3650
#define PEM_MOST ((size_t)64 << 10)
#define NAMES_MOST 32
#define SOON_DAYS 30

/* One certificate with its key. */
struct pair {
    gnutls_x509_crt_t crt;
    gnutls_x509_privkey_t key;
};

static void pair_free(struct pair *p)
{
    if (p->crt) {
        gnutls_x509_crt_deinit(p->crt);
    }
    if (p->key) {
        gnutls_x509_privkey_deinit(p->key);
    }
    *p = (struct pair){0};
}

/* False with the library's words when a call failed. */
static bool fine(int code, const char *doing, struct err *e)
{
    return code >= 0 || err_set(e, ERR_SYSTEM, NULL, doing, ": ", gnutls_strerror(code), (char *)0);
}

static const char *in_folder(struct arena *a, const char *folder, const char *name)
{
    struct text t = text_new(a);
    text_join(&t, folder, "/", name, (char *)0);
    return text_z(&t);
}

/* ---- files ---------------------------------------------------------------------------------------------------------
 */

static bool cannot(struct err *e, const char *doing, const char *path)
{
    return err_set(e, ERR_SYSTEM, NULL, doing, " ", path, ": ", strerror(errno), (char *)0);
}

/* A file of that mode in one step. */
static bool write_file(struct arena *a, const char *path, const char *data, size_t n, mode_t mode, struct err *e)
{
    struct text beside = text_new(a);
    text_join(&beside, path, ".new", (char *)0);
    const char *new = text_z(&beside);
    (void)unlink(new);
    int fd = open(new, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
    if (fd < 0) {
        return cannot(e, "cannot write", new);
    }
    bool ok = write(fd, data, n) == (ssize_t)n && fsync(fd) == 0;
    ok = close(fd) == 0 && ok;
    ok = ok && rename(new, path) == 0;
    if (!ok) {
        (void)unlink(new);
        return cannot(e, "cannot write", path);
    }
    return true;
}

static bool write_pair(struct arena *a, const char *folder, const char *name, const struct pair *p, struct err *e)
{
    gnutls_datum_t crt = {0};
    gnutls_datum_t key = {0};
    struct text crt_name = text_new(a);
    struct text key_name = text_new(a);
    text_join(&crt_name, name, ".crt", (char *)0);
    text_join(&key_name, name, ".key", (char *)0);
    bool ok = fine(gnutls_x509_crt_export2(p->crt, GNUTLS_X509_FMT_PEM, &crt), "writing a certificate", e) &&
              fine(gnutls_x509_privkey_export2_pkcs8(p->key, GNUTLS_X509_FMT_PEM, NULL, GNUTLS_PKCS_PLAIN, &key),
                   "writing a key", e) &&
              write_file(a, in_folder(a, folder, text_z(&key_name)), (const char *)key.data, key.size, 0600, e) &&
              write_file(a, in_folder(a, folder, text_z(&crt_name)), (const char *)crt.data, crt.size, 0644, e);
    gnutls_free(crt.data);
    if (key.data) {
        gnutls_memset(key.data, 0, key.size);
    }
    gnutls_free(key.data);
    return ok;
}

static bool read_crt(struct arena *a, const char *path, gnutls_x509_crt_t *crt, struct str *pem, struct err *e)
{
    if (access(path, F_OK) != 0) {
        return err_set(e, ERR_MISSING, "witmark authority make", "there is no certificate ", path, (char *)0);
    }
    if (!desk_read_file(a, path, PEM_MOST, pem, e) || !fine(gnutls_x509_crt_init(crt), "reading a certificate", e)) {
        return false;
    }
    gnutls_datum_t data = {(unsigned char *)(uintptr_t)pem->p, (unsigned int)pem->n};
    int code = gnutls_x509_crt_import(*crt, &data, GNUTLS_X509_FMT_PEM);
    return code >= 0 || err_set(e, ERR_INPUT, "a certificate in PEM", path, ": ", gnutls_strerror(code), (char *)0);
}

static bool read_key(struct arena *a, const char *path, gnutls_x509_privkey_t *key, struct str *pem, struct err *e)
{
    if (access(path, F_OK) != 0) {
        return err_set(e, ERR_MISSING, "witmark authority make", "there is no key ", path, (char *)0);
    }
    if (!desk_read_file(a, path, PEM_MOST, pem, e) || !fine(gnutls_x509_privkey_init(key), "reading a key", e)) {
        return false;
    }
    gnutls_datum_t data = {(unsigned char *)(uintptr_t)pem->p, (unsigned int)pem->n};
    int code = gnutls_x509_privkey_import2(*key, &data, GNUTLS_X509_FMT_PEM, NULL, 0);
    return code >= 0 ||
           err_set(e, ERR_INPUT, "a key in PEM without a password", path, ": ", gnutls_strerror(code), (char *)0);
}

static bool read_pair(struct arena *a, const char *folder, const char *name, struct pair *p, struct str *pem,
                      struct err *e)
{
    struct text crt = text_new(a);
    struct text key = text_new(a);
    struct str unused;
    text_join(&crt, name, ".crt", (char *)0);
    text_join(&key, name, ".key", (char *)0);
    return read_crt(a, in_folder(a, folder, text_z(&crt)), &p->crt, pem, e) &&
           read_key(a, in_folder(a, folder, text_z(&key)), &p->key, &unused, e);
}

/* ---- names ---------------------------------------------------------------------------------------------------------
 */

/* A name or an address that a certificate is for. */
struct host {
    struct str text;
    bool address;
    uint8_t bytes[16];
    unsigned int n; /* 4 or 16 */
};
struct hosts {
    struct host at[NAMES_MOST];
    size_t n;
};

/* "depot.local": labels of letters, digits and hyphens, at most 63 each (RFC 1123 2.1). */
static bool is_dns_name(struct str name)
{
    struct str rest = name;
    struct str label;
    bool good = name.n > 0 && name.n <= 253 && !str_ends(name, S("."));
    while (good && str_next(&rest, '.', &label)) {
        good = label.n > 0 && label.n <= 63 && label.p[0] != '-' && label.p[label.n - 1] != '-';
        for (size_t i = 0; good && i < label.n; i++) {
            char c = label.p[i];
            good = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-';
        }
    }
    return good;
}

static bool add_host(struct hosts *hosts, struct arena *a, struct str text, bool address, struct err *e)
{
    if (hosts->n == NAMES_MOST) {
        return err_set(e, ERR_INPUT, "32 at most", "too many names", (char *)0);
    }
    struct host *h = &hosts->at[hosts->n];
    *h = (struct host){.text = str_copy(a, text)};
    const char *z = h->text.p;
    h->n = inet_pton(AF_INET, z, h->bytes) == 1 ? 4U : inet_pton(AF_INET6, z, h->bytes) == 1 ? 16U : 0U;
    h->address = h->n > 0;
    if (address && !h->address) {
        return err_set(e, ERR_INPUT, "such as 192.168.1.20 or fd00::20", "'", z, "' is no address", (char *)0);
    }
    if (!address && !h->address && !is_dns_name(text)) {
        return err_set(e, ERR_INPUT, "such as depot.local", "'", z, "' is no name of a host", (char *)0);
    }
    hosts->n++;
    return true;
}

static bool add_hosts(struct hosts *hosts, struct arena *a, struct str list, bool address, struct err *e)
{
    struct str piece;
    while (str_next(&list, ',', &piece)) {
        piece = str_trim(piece);
        if (piece.n && !add_host(hosts, a, piece, address, e)) {
            return false;
        }
    }
    return true;
}

/* The addresses by which this machine is reached: those of its networks that are up, without loopback. */
static bool add_own(struct hosts *hosts, struct arena *a, struct err *e)
{
    struct ifaddrs *list = NULL;
    if (getifaddrs(&list) != 0) {
        return cannot(e, "cannot ask for", "the addresses of this machine");
    }
    bool ok = true;
    for (struct ifaddrs *i = list; i && ok; i = i->ifa_next) {
        char text[INET_ADDRSTRLEN];
        struct sockaddr_in v4;
        if (!i->ifa_addr || i->ifa_addr->sa_family != AF_INET || (i->ifa_flags & (unsigned int)IFF_LOOPBACK) ||
            !(i->ifa_flags & (unsigned int)IFF_UP)) {
            continue;
        }
        memcpy(&v4, i->ifa_addr, sizeof v4);
        ok = !inet_ntop(AF_INET, &v4.sin_addr, text, sizeof text) || add_host(hosts, a, str_of(text), true, e);
    }
    freeifaddrs(list);
    return ok;
}

/* The names in a certificate. */
static bool hosts_of(gnutls_x509_crt_t crt, struct arena *a, struct hosts *hosts, struct err *e)
{
    for (unsigned int i = 0; hosts->n < NAMES_MOST; i++) {
        char data[300];
        size_t n = sizeof data;
        unsigned int type = 0;
        int code = gnutls_x509_crt_get_subject_alt_name2(crt, i, data, &n, &type, NULL);
        if (code == GNUTLS_E_REQUESTED_DATA_NOT_AVAILABLE) {
            return true;
        }
        char text[INET6_ADDRSTRLEN] = "";
        if (code >= 0 && type == GNUTLS_SAN_IPADDRESS && (n == 4 || n == 16)) {
            (void)inet_ntop(n == 4 ? AF_INET : AF_INET6, data, text, sizeof text);
        }
        struct str name = type == GNUTLS_SAN_DNSNAME ? (struct str){data, n} : str_of(text);
        if (code >= 0 && name.n && !add_host(hosts, a, name, false, e)) {
            return false;
        }
    }
    return true;
}

static struct str hosts_text(struct arena *a, const struct hosts *hosts)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < hosts->n; i++) {
        text_addz(&t, i ? "," : "");
        text_add(&t, hosts->at[i].text);
    }
    return text_str(&t);
}

struct str host_for_people(struct str names)
{
    struct str rest = names;
    struct str piece;
    struct str first = {0};
    while (str_next(&rest, ',', &piece)) {
        char z[INET6_ADDRSTRLEN] = "";
        struct in6_addr v6;
        struct in_addr v4;
        memcpy(z, piece.p, piece.n < sizeof z ? piece.n : sizeof z - 1);
        bool ipv4 = inet_pton(AF_INET, z, &v4) == 1;
        if ((ipv4 && ntohl(v4.s_addr) >> 24 != 127) || (!ipv4 && inet_pton(AF_INET6, z, &v6) == 1)) {
            return piece;
        }
        first = first.n ? first : piece;
    }
    return first;
}

/* ---- making --------------------------------------------------------------------------------------------------------
 */

/* A key and a certificate with what both kinds have in common. */
static bool begin_pair(struct pair *p, struct arena *a, struct str name, instant_ms from, instant_ms until,
                       struct err *e)
{
    uint8_t serial[16];
    uint8_t id[20];
    size_t n = sizeof id;
    if (!fine(gnutls_rnd(GNUTLS_RND_NONCE, serial, sizeof serial), "drawing a number", e)) {
        return false;
    }
    serial[0] = (uint8_t)((serial[0] & 0x7fU) | 0x40U); /* positive, and always of the same length */
    const char *common = str_z(a, str_cut(name, 0, 60));
    return fine(gnutls_x509_privkey_init(&p->key), "making a key", e) &&
           fine(gnutls_x509_privkey_generate(p->key, GNUTLS_PK_ECDSA, GNUTLS_CURVE_TO_BITS(GNUTLS_ECC_CURVE_SECP256R1),
                                             0),
                "making a key", e) &&
           fine(gnutls_x509_crt_init(&p->crt), "making a certificate", e) &&
           fine(gnutls_x509_crt_set_version(p->crt, 3), "making a certificate", e) &&
           fine(gnutls_x509_crt_set_serial(p->crt, serial, sizeof serial), "making a certificate", e) &&
           fine(gnutls_x509_crt_set_key(p->crt, p->key), "making a certificate", e) &&
           fine(gnutls_x509_crt_set_dn_by_oid(p->crt, GNUTLS_OID_X520_COMMON_NAME, 0, common,
                                              (unsigned int)strlen(common)),
                "naming a certificate", e) &&
           fine(gnutls_x509_crt_set_activation_time(p->crt, (time_t)(from / 1000)), "dating a certificate", e) &&
           fine(gnutls_x509_crt_set_expiration_time(p->crt, (time_t)(until / 1000)), "dating a certificate", e) &&
           fine(gnutls_x509_privkey_get_key_id(p->key, GNUTLS_KEYID_USE_SHA1, id, &n), "naming a key", e) &&
           fine(gnutls_x509_crt_set_subject_key_id(p->crt, id, n), "naming a key", e);
}

/* Private networks: RFC 1918, RFC 3927, RFC 4193, RFC 4291 (link-local); and loopback. Address, then mask. */
static const struct {
    uint8_t net[32];
    unsigned int n;
} private_nets[] = {
    {{10, 0, 0, 0, 255, 0, 0, 0}, 8},
    {{172, 16, 0, 0, 255, 240, 0, 0}, 8},
    {{192, 168, 0, 0, 255, 255, 0, 0}, 8},
    {{169, 254, 0, 0, 255, 255, 0, 0}, 8},
    {{127, 0, 0, 0, 255, 0, 0, 0}, 8},
    {{[0] = 0xfc, [16] = 0xfe}, 32},
    {{[0] = 0xfe, [1] = 0x80, [16] = 0xff, [17] = 0xc0}, 32},
};

static bool permit(gnutls_x509_name_constraints_t nc, gnutls_x509_subject_alt_name_t type, const void *data, size_t n,
                   struct err *e)
{
    gnutls_datum_t name = {(unsigned char *)(uintptr_t)data, (unsigned int)n};
    return fine(gnutls_x509_name_constraints_add_permitted(nc, type, &name), "limiting the authority", e);
}

/* What the authority may vouch for: these names, these addresses, and private networks. */
static bool limit(gnutls_x509_crt_t crt, const struct hosts *hosts, struct err *e)
{
    gnutls_x509_name_constraints_t nc = NULL;
    bool ok = fine(gnutls_x509_name_constraints_init(&nc), "limiting the authority", e);
    bool named = false;
    for (size_t i = 0; ok && i < hosts->n; i++) {
        const struct host *h = &hosts->at[i];
        uint8_t one[32];
        memcpy(one, h->bytes, h->n);
        memset(one + h->n, 0xff, h->n);
        named = named || !h->address;
        ok = h->address ? permit(nc, GNUTLS_SAN_IPADDRESS, one, 2 * (size_t)h->n, e)
                        : permit(nc, GNUTLS_SAN_DNSNAME, h->text.p, h->text.n, e);
    }
    for (size_t i = 0; ok && i < sizeof private_nets / sizeof *private_nets; i++) {
        ok = permit(nc, GNUTLS_SAN_IPADDRESS, private_nets[i].net, private_nets[i].n, e);
    }
    ok = ok && permit(nc, GNUTLS_SAN_DNSNAME, "localhost", 9, e);
    ok = ok && fine(gnutls_x509_crt_set_name_constraints(crt, nc, 1), "limiting the authority", e);
    if (nc) {
        gnutls_x509_name_constraints_deinit(nc);
    }
    return ok;
}

/* Signs by the issuer and reads back what was made: a certificate under construction does not tell all it holds. */
static bool sign(struct pair *p, const struct pair *issuer, struct err *e)
{
    gnutls_datum_t made = {0};
    gnutls_x509_crt_t crt = NULL;
    bool ok = fine(gnutls_x509_crt_sign2(p->crt, issuer->crt, issuer->key, GNUTLS_DIG_SHA256, 0),
                   "signing a certificate", e) &&
              fine(gnutls_x509_crt_export2(p->crt, GNUTLS_X509_FMT_DER, &made), "signing a certificate", e) &&
              fine(gnutls_x509_crt_init(&crt), "signing a certificate", e) &&
              fine(gnutls_x509_crt_import(crt, &made, GNUTLS_X509_FMT_DER), "signing a certificate", e);
    gnutls_free(made.data);
    if (crt) {
        gnutls_x509_crt_deinit(p->crt);
        p->crt = crt;
    }
    return ok;
}

static bool make_authority(const struct authority_ask *ask, const struct hosts *hosts, instant_ms now, struct arena *a,
                           struct pair *p, struct err *e)
{
    struct text name = text_new(a);
    text_addz(&name, "Site authority of ");
    text_add(&name, ask->depot);
    return begin_pair(p, a, text_str(&name), now - DAY_MS, now + AUTHORITY_DAYS * DAY_MS, e) &&
           fine(gnutls_x509_crt_set_basic_constraints(p->crt, 1, 0), "making the authority", e) &&
           fine(gnutls_x509_crt_set_key_usage(p->crt, GNUTLS_KEY_KEY_CERT_SIGN | GNUTLS_KEY_CRL_SIGN),
                "making the authority", e) &&
           limit(p->crt, hosts, e) && sign(p, p, e) && write_pair(a, ask->folder, "authority", p, e);
}

static bool make_server(const struct pair *authority, const struct hosts *hosts, int days, instant_ms now,
                        struct arena *a, struct pair *p, struct err *e)
{
    instant_ms until = now + (instant_ms)days * DAY_MS - DAY_MS;
    uint8_t id[64];
    size_t n = sizeof id;
    unsigned int critical = 0;
    bool ok =
        begin_pair(p, a, hosts->at[0].text, now - DAY_MS, until, e) &&
        fine(gnutls_x509_crt_set_basic_constraints(p->crt, 0, -1), "making the certificate", e) &&
        fine(gnutls_x509_crt_set_key_usage(p->crt, GNUTLS_KEY_DIGITAL_SIGNATURE), "making the certificate", e) &&
        fine(gnutls_x509_crt_set_key_purpose_oid(p->crt, GNUTLS_KP_TLS_WWW_SERVER, 0), "making the certificate", e) &&
        fine(gnutls_x509_crt_get_subject_key_id(authority->crt, id, &n, &critical), "reading the authority", e) &&
        fine(gnutls_x509_crt_set_authority_key_id(p->crt, id, n), "making the certificate", e);
    for (size_t i = 0; ok && i < hosts->n; i++) {
        const struct host *h = &hosts->at[i];
        ok = fine(gnutls_x509_crt_set_subject_alt_name(p->crt, h->address ? GNUTLS_SAN_IPADDRESS : GNUTLS_SAN_DNSNAME,
                                                       h->address ? (const void *)h->bytes : (const void *)h->text.p,
                                                       h->address ? h->n : (unsigned int)h->text.n, GNUTLS_FSAN_APPEND),
                  "naming the certificate", e);
    }
    return ok && sign(p, authority, e);
}

/* ---- what is there
 * --------------------------------------------------------------------------------------------------- */

/* Whether the authority vouches for the certificate, name constraints and all; dates are looked at apart, by the
 * depot's clock. */
static bool chain_holds(gnutls_x509_crt_t server, gnutls_x509_crt_t authority, unsigned int *status, struct err *e)
{
    gnutls_x509_trust_list_t list = NULL;
    bool ok = fine(gnutls_x509_trust_list_init(&list, 0), "checking", e) &&
              gnutls_x509_trust_list_add_cas(list, &authority, 1, 0) == 1 &&
              fine(gnutls_x509_trust_list_verify_crt(list, &server, 1, GNUTLS_VERIFY_DISABLE_TIME_CHECKS, status, NULL),
                   "checking", e);
    if (list) {
        gnutls_x509_trust_list_deinit(list, 0);
    }
    return ok;
}

static bool facts_of(gnutls_x509_crt_t authority, struct str pem, gnutls_x509_crt_t server, struct arena *a,
                     struct authority_facts *out, struct err *e)
{
    uint8_t hash[32];
    size_t n = sizeof hash;
    struct hosts hosts = {0};
    struct text t = text_new(a);
    if (!fine(gnutls_x509_crt_get_fingerprint(authority, GNUTLS_DIG_SHA256, hash, &n), "reading the authority", e) ||
        !hosts_of(server, a, &hosts, e)) {
        return false;
    }
    for (size_t i = 0; i < sizeof hash; i++) {
        static const char digits[] = "0123456789ABCDEF";
        text_addz(&t, i ? ":" : "");
        text_char(&t, digits[hash[i] >> 4]);
        text_char(&t, digits[hash[i] & 15]);
    }
    *out =
        (struct authority_facts){.names = hosts_text(a, &hosts),
                                 .first = host_for_people(hosts_text(a, &hosts)),
                                 .fingerprint = text_str(&t),
                                 .certificate = pem,
                                 .authority_until = (instant_ms)gnutls_x509_crt_get_expiration_time(authority) * 1000,
                                 .server_from = (instant_ms)gnutls_x509_crt_get_activation_time(server) * 1000,
                                 .server_until = (instant_ms)gnutls_x509_crt_get_expiration_time(server) * 1000};
    return true;
}

static bool check_days(int *days, struct err *e)
{
    *days = *days ? *days : LEAF_DAYS;
    return (*days >= 2 && *days <= LEAF_DAYS_MOST) || err_set(e, ERR_USAGE, "2 to 825 days; browsers take no more",
                                                              "a certificate cannot be for so many days", (char *)0);
}

/* Makes the server's certificate by an authority that is there, unless it may not vouch for the names. */
static bool certify(const char *folder, const struct pair *authority, struct str pem, const struct hosts *hosts,
                    int days, instant_ms now, struct arena *a, struct authority_facts *out, struct err *e)
{
    struct pair server = {0};
    unsigned int status = 0;
    bool ok =
        make_server(authority, hosts, days, now, a, &server, e) && chain_holds(server.crt, authority->crt, &status, e);
    if (ok && status) {
        ok = err_set(e, ERR_INPUT,
                     "witmark authority make --anew makes an authority for these names; phones must install it again",
                     "the authority that is there may not vouch for ", str_z(e->a, hosts_text(a, hosts)), (char *)0);
    }
    ok = ok && facts_of(authority->crt, pem, server.crt, a, out, e) && write_pair(a, folder, "server", &server, e);
    pair_free(&server);
    return ok;
}

bool authority_make(const struct authority_ask *ask, instant_ms now, struct arena *a, struct authority_facts *out,
                    struct err *e)
{
    struct hosts hosts = {0};
    struct pair authority = {0};
    struct str pem = {0};
    int days = ask->days;
    if (!check_days(&days, e) || !add_hosts(&hosts, a, ask->names, false, e) ||
        !(ask->addresses.n ? add_hosts(&hosts, a, ask->addresses, true, e) : add_own(&hosts, a, e))) {
        return false;
    }
    if (hosts.n == 0) {
        return err_set(e, ERR_USAGE, "--name depot.local or --address 192.168.1.20",
                       "this machine has no address on a network yet", (char *)0);
    }
    if (mkdir(ask->folder, 0700) != 0 && errno != EEXIST) {
        return cannot(e, "cannot make", ask->folder);
    }
    const char *path = in_folder(a, ask->folder, "authority.crt");
    bool there = access(path, F_OK) == 0 && !ask->anew;
    bool ok = there ? read_pair(a, ask->folder, "authority", &authority, &pem, e)
                    : make_authority(ask, &hosts, now, a, &authority, e) && desk_read_file(a, path, PEM_MOST, &pem, e);
    ok = ok && certify(ask->folder, &authority, pem, &hosts, days, now, a, out, e);
    pair_free(&authority);
    return ok;
}

bool authority_renew(const char *folder, int days, instant_ms now, struct arena *a, struct authority_facts *out,
                     struct err *e)
{
    struct pair authority = {0};
    gnutls_x509_crt_t old = NULL;
    struct hosts hosts = {0};
    struct str pem = {0};
    struct str unused;
    bool ok =
        check_days(&days, e) && read_pair(a, folder, "authority", &authority, &pem, e) &&
        read_crt(a, in_folder(a, folder, "server.crt"), &old, &unused, e) && hosts_of(old, a, &hosts, e) &&
        (hosts.n > 0 || err_set(e, ERR_INPUT, "witmark authority make", "the certificate is for no name", (char *)0)) &&
        certify(folder, &authority, pem, &hosts, days, now, a, out, e);
    if (old) {
        gnutls_x509_crt_deinit(old);
    }
    pair_free(&authority);
    return ok;
}

/* ---- checking ------------------------------------------------------------------------------------------------------
 */

static void finding(struct diags *d, enum diag_level level, const char *rule, const char *what, const char *right)
{
    struct diag one = {.level = level, .rule = rule, .what = str_of(what), .right = str_of(right)};
    diags_add(d, one);
}

/* Whether key and certificate belong together. */
static bool key_fits(const struct pair *p)
{
    uint8_t of_key[32];
    uint8_t of_crt[32];
    size_t n = sizeof of_key;
    size_t m = sizeof of_crt;
    return gnutls_x509_privkey_get_key_id(p->key, GNUTLS_KEYID_USE_SHA256, of_key, &n) >= 0 &&
           gnutls_x509_crt_get_key_id(p->crt, GNUTLS_KEYID_USE_SHA256, of_crt, &m) >= 0 && n == m &&
           memcmp(of_key, of_crt, n) == 0;
}

static bool key_is_open(const char *path)
{
    struct stat s;
    return stat(path, &s) == 0 && (s.st_mode & (S_IRWXG | S_IRWXO)) != 0;
}

static void check_pair(struct arena *a, const char *folder, const char *name, const struct pair *p, instant_ms now,
                       struct diags *d)
{
    struct text key = text_new(a);
    text_join(&key, name, ".key", (char *)0);
    instant_ms until = (instant_ms)gnutls_x509_crt_get_expiration_time(p->crt) * 1000;
    bool server = strcmp(name, "server") == 0;
    if (!key_fits(p)) {
        finding(d, DIAG_ERROR, "key",
                server ? "the server's key is not that of its certificate"
                       : "the authority's key is not that of its certificate",
                server ? "witmark authority renew" : "witmark authority make --anew");
    }
    if (key_is_open(in_folder(a, folder, text_z(&key)))) {
        finding(d, DIAG_ERROR, "mode",
                server ? "others may read the server's key" : "others may read the authority's key", "chmod 600");
    }
    if (until <= now) {
        finding(d, DIAG_ERROR, "over", server ? "the server's certificate is over" : "the authority is over",
                server ? "witmark authority renew" : "witmark authority make --anew");
    } else if (until <= now + SOON_DAYS * DAY_MS) {
        finding(d, DIAG_DOUBT, "soon",
                server ? "the server's certificate will soon be over" : "the authority will soon be over",
                server ? "witmark authority renew" : "witmark authority make --anew");
    }
}

bool authority_check(const char *folder, instant_ms now, struct arena *a, struct authority_facts *out, struct diags *d,
                     struct err *e)
{
    struct pair authority = {0};
    struct pair server = {0};
    struct str pem = {0};
    struct str unused;
    unsigned int status = 0;
    bool ok = read_pair(a, folder, "authority", &authority, &pem, e) &&
              read_pair(a, folder, "server", &server, &unused, e) &&
              facts_of(authority.crt, pem, server.crt, a, out, e) && chain_holds(server.crt, authority.crt, &status, e);
    if (ok) {
        check_pair(a, folder, "authority", &authority, now, d);
        check_pair(a, folder, "server", &server, now, d);
        if (status) {
            finding(d, DIAG_ERROR, "chain", "the server's certificate is not one of this authority for these names",
                    "witmark authority renew");
        }
    }
    pair_free(&authority);
    pair_free(&server);
    return ok;
}

bool tls_read(const char *certificate, const char *key, instant_ms now, struct arena *a, struct tls_files *out,
              struct err *e)
{
    struct pair p = {0};
    struct hosts hosts = {0};
    struct str crt_pem = {0};
    struct str key_pem = {0};
    bool ok = read_crt(a, certificate, &p.crt, &crt_pem, e) && read_key(a, key, &p.key, &key_pem, e) &&
              hosts_of(p.crt, a, &hosts, e);
    instant_ms until = ok ? (instant_ms)gnutls_x509_crt_get_expiration_time(p.crt) * 1000 : 0;
    if (ok && !key_fits(&p)) {
        ok = err_set(e, ERR_REFUSED, "the key that belongs to it", key, " is not the key of ", certificate, (char *)0);
    } else if (ok && key_is_open(key)) {
        ok = err_set(e, ERR_REFUSED, "chmod 600", "others may read ", key, (char *)0);
    } else if (ok && until <= now) {
        ok = err_set(e, ERR_REFUSED, "witmark authority renew, or get a new one", certificate, " is over", (char *)0);
    }
    if (ok) {
        *out = (struct tls_files){str_z(a, crt_pem), str_z(a, key_pem), hosts_text(a, &hosts), until};
    }
    pair_free(&p);
    return ok;
}
