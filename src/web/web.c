/* placeholder replaced by the page */
#include "web.h"
bool web_serve(const struct web_options *options, struct err *e)
{
    (void)options;
    return err_set(e, ERR_SYSTEM, NULL, "no page", (char *)0);
}
