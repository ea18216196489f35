// server_lan.c: the addresses of this computer that other devices in its network can reach (IPv4, as shop networks are).
#define _DEFAULT_SOURCE // IFF_UP
#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <sys/socket.h>

#include "server_internal.h"

// Networks between programs on this computer, which no phone is in: they are told last.
static bool is_made_up(const char *name)
{
    static const char *const starts[] = {"docker", "br-",   "veth",  "virbr",
                                         "lxc",    "vmnet", "podman"};
    for (size_t i = 0; i < sizeof starts / sizeof *starts; i++) {
        if (strncmp(name, starts[i], strlen(starts[i])) == 0) {
            return true;
        }
    }
    return false;
}

size_t server_lan_addresses(char out[][SERVER_ADDRESS_SIZE], size_t most)
{
    struct ifaddrs *all = NULL;
    size_t count = 0;
    if (getifaddrs(&all) != 0) {
        return 0;
    }
    for (int made_up = 0; made_up < 2; made_up++) {
        for (struct ifaddrs *at = all; at && count < most; at = at->ifa_next) {
            bool serves = at->ifa_addr && at->ifa_addr->sa_family == AF_INET &&
                          (at->ifa_flags & IFF_UP) && !(at->ifa_flags & IFF_LOOPBACK);
            if (!serves || is_made_up(at->ifa_name) != made_up) {
                continue;
            }
            struct sockaddr_in address;
            memcpy(&address, at->ifa_addr, sizeof address);
            count += inet_ntop(AF_INET, &address.sin_addr, out[count], SERVER_ADDRESS_SIZE) != NULL;
        }
    }
    freeifaddrs(all);
    return count;
}
