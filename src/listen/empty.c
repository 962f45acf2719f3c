/* Keeps the folder's target building until its first module is here. */
typedef int thrum_listen_empty;
